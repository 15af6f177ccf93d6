// The evaluation judges the search, so it is judged itself: on pictures whose every pixel is known here.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { normal, randomFrom } from '../random.js'
import { moved, picture } from '../resample.js'
import { passes } from './bars.js'
import { type Case, middleOf } from './case.js'
import { type Disturbance, findDisturbance } from './disturbance.js'
import { type Footage, openFootage, readLinear, toDisplay } from './footage.js'
import { MAX_SWAY_PX, motionOf } from './motion.js'
import { paintCrowd } from './occluder.js'
import { findOracle } from './oracle.js'
import { finishOf } from './patched.js'
import { labelFrames, pickWindows } from './pick-windows.js'
import { describeCase, plant, plateFolder, readScenery, readTruth } from './plant.js'
import { inRegion, regionPixels } from './region.js'

import { psnr, squaredError } from './score.js'
import { median, rms, worst } from './statistics.js'

const WIDTH = 320
const HEIGHT = 200
const FRAMES = 80
/** A dark post, 24 px wide, walks along here and back: in frame f its left edge is at postX(f). */
const postX = (f: number) => Math.round(160 + 150 * Math.sin((2 * Math.PI * f) / 50))

let folder: string
let footage: Footage
let disturbance: Disturbance

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'offcut-eval-test-'))
  const random = randomFrom('wall')
  const wall = Uint8Array.from({ length: WIDTH * HEIGHT * 3 }, () => 120 + 60 * random())
  for (let f = 0; f < FRAMES; f++) {
    const codes = Uint8Array.from(wall, (v) => v + 2 * random())
    for (let y = 40; y < 160; y++) {
      for (let x = postX(f); x < postX(f) + 24; x++) {
        if (x >= 0 && x < WIDTH) codes.fill(20, (y * WIDTH + x) * 3, (y * WIDTH + x + 1) * 3)
      }
    }
    await sharp(codes, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
      .png({ compressionLevel: 1 })
      .toFile(join(folder, `wall.${1001 + f}.png`))
  }
  footage = await openFootage(folder)
  disturbance = await findDisturbance(footage)
}, 60_000)

afterAll(() => rm(folder, { recursive: true, force: true }))

describe('where somebody stands', () => {
  test('is labelled frame by frame as the post was drawn', () => {
    const box = { x: 128, y: 72, w: 64, h: 48 }
    const labels = labelFrames(disturbance, box)
    for (const [f, label] of labels.entries()) {
      // Share of the region under the post, counted pixel by pixel.
      let covered = 0
      let all = 0
      for (let y = 0; y < box.h; y++) {
        for (let x = 0; x < box.w; x++) {
          if (!inRegion(box, x, y)) continue
          all++
          if (box.x + x >= postX(f) && box.x + x < postX(f) + 24) covered++
        }
      }
      // Blocks that the post's edge cuts may fall either way: a share between is not asserted.
      if (covered === 0 && Math.abs(postX(f) + 12 - 160) > 50) expect(label).toBe('empty')
      if (covered / all > 0.08) expect(label).toBe('disturbed')
    }
    expect(labels.filter((l) => l === 'empty').length).toBeGreaterThan(20)
    expect(labels.filter((l) => l === 'disturbed').length).toBeGreaterThan(10)
  })

  test('picked windows are ten numbered-through frames without the post, and the rest is busy', () => {
    const windows = pickWindows(footage, disturbance, { count: 3, seed: 'a' })
    expect(windows.length).toBeGreaterThan(0)
    for (const { box, frames, disturbedShare } of windows) {
      expect(frames).toHaveLength(10)
      for (const frame of frames) {
        const x = postX(frame - 1001)
        expect(x + 24 <= box.x || x >= box.x + box.w).toBe(true)
      }
      expect(disturbedShare).toBeGreaterThanOrEqual(0.12)
      expect(disturbedShare).toBeLessThanOrEqual(0.7)
    }
  })

  test('a run with more windows keeps those of a run with fewer', () => {
    const three = pickWindows(footage, disturbance, { count: 3, seed: 'a' })
    expect(pickWindows(footage, disturbance, { count: 1, seed: 'a' })).toEqual(three.slice(0, 1))
  })
})

describe('planted truth', () => {
  test('is the footage itself in the plain variant, and the occluder hides all of the region', async () => {
    const [window] = pickWindows(footage, disturbance, { count: 1, seed: 'b' })
    const planted = describeCase(footage, disturbance, window, { variant: 'plain', number: 1, seed: 'b' })
    const at = join(folder, 'plain')
    await plant(footage, [{ folder: at, planted }], () => {})
    const frame = middleOf(window)
    const truth = await readTruth(at, frame)
    const source = await readLinear(footage, frame, planted.crop)
    const region = regionPixels(planted.box, planted.crop.w)
    expect(psnr(squaredError(source, truth, region, region))).toBeGreaterThan(90)
    const shown = await openFootage(plateFolder(at))
    const painted = await readLinear(shown, frame)
    const same = region.filter((i) => Math.abs(toDisplay(painted.data[3 * i]) - truth.data[3 * i]) < 1 / 255)
    expect(same.length).toBeLessThan(0.1 * region.length)
  }, 30_000)

  test('comes with its scenery: the wall without the noise of any frame, nobody in front, as its camera stood', async () => {
    const [window] = pickWindows(footage, disturbance, { count: 1, seed: 'b' })
    for (const variant of ['plain', 'sway'] as const) {
      const planted = describeCase(footage, disturbance, window, { variant, number: 1, seed: 'c' })
      const at = join(folder, `scenery-${variant}`)
      await plant(footage, [{ folder: at, planted }], () => {})
      const frame = middleOf(window)
      const [truth, scenery] = [await readTruth(at, frame), await readScenery(at, frame)]
      const region = regionPixels(planted.box, planted.crop.w)
      const off = [...region].map((i) => 255 * (truth.data[3 * i] - scenery.data[3 * i]))
      // What each frame adds to the wall is even from 0 to 2 codes, cut to whole ones: 0 or 1, of a standard deviation of a half.
      const mean = off.reduce((sum, v) => sum + v, 0) / off.length
      expect(rms(off.map((v) => v - mean))).toBeGreaterThan(0.4)
      expect(rms(off.map((v) => v - mean))).toBeLessThan(variant === 'plain' ? 0.75 : 0.9)
    }
  }, 60_000)

  test('the oracle of a wall with sensor noise reaches the noise, never a frame with the post', async () => {
    const [window] = pickWindows(footage, disturbance, { count: 1, seed: 'b' })
    const planted: Case = describeCase(footage, disturbance, window, {
      variant: 'sway',
      number: 1,
      seed: 'b',
    })
    const at = join(folder, 'sway')
    await plant(footage, [{ folder: at, planted }], () => {})
    const oracle = await findOracle(at, planted)
    expect(planted.labels[planted.frames.indexOf(oracle.middleDonor)]).not.toBe('disturbed')
    // White noise of 60 codes is the hardest picture to resample; wrong signs of offset or gain end below 20 dB.
    expect(oracle.middle).toBeGreaterThan(24)
  }, 30_000)

  test('sway stays within its limit and no variant but sway moves the camera', () => {
    const frames = Array.from({ length: 300 }, (_, i) => 1001 + i)
    const sway = motionOf('sway', frames, 'k')
    expect(Math.max(...sway.map((m) => Math.abs(m.dx)))).toBeLessThanOrEqual(MAX_SWAY_PX)
    expect(Math.max(...sway.map((m) => Math.abs(m.dx)))).toBeGreaterThan(2)
    expect(rms(motionOf('flicker', frames, 'k').map((m) => m.stops))).toBeGreaterThan(0.08)
    expect(motionOf('flicker', frames, 'k').every((m) => m.dx === 0 && m.dy === 0)).toBe(true)
  })

  test('the crowd of a hopeless case leaves no frame with less than half of the region covered', () => {
    const box = { x: 0, y: 0, w: 64, h: 48 }
    const region = regionPixels(box, 64)
    for (let f = 0; f < 200; f++) {
      const shown = picture(64, 48)
      paintCrowd(shown, box, f, 'k')
      const covered = region.filter((i) => shown.data[3 * i] > 0).length
      expect(covered / region.length).toBeGreaterThan(0.5)
    }
  })
})

describe('the measure', () => {
  test('an even error of one code in 255 is 48.13 dB', () => {
    const repaired = picture(4, 4)
    const truth = picture(4, 4)
    repaired.data.fill(0.2)
    truth.data.fill(toDisplay(0.2) + 1 / 255)
    const all = Int32Array.from({ length: 16 }, (_, i) => i)
    // 20 log10(255), the definition of PSNR with peak 1.
    expect(psnr(squaredError(repaired, truth, all, all))).toBeCloseTo(48.1308, 2)
  })

  test('noise is told apart from texture many times as strong', () => {
    const [size, times] = [64, 6]
    const [wall, grain] = [randomFrom('texture'), randomFrom('grain')]
    const region = regionPixels({ x: 4, y: 4, w: 56, h: 56 }, size)
    const scenery = picture(size, size)
    for (let i = 0; i < scenery.data.length; i++) scenery.data[i] = 0.3 + 0.2 * wall()
    const withNoise = (sigma: number) => ({
      ...scenery,
      data: scenery.data.map((v) => v + sigma * normal(grain)),
    })
    for (const share of [0, 0.5, 1, 1.5]) {
      const frames = Array.from({ length: times }, () => ({
        truth: withNoise(0.01),
        repaired: withNoise(0.01 * share),
        scenery,
      }))
      const { noise } = finishOf(
        frames,
        frames.map(() => region),
      )
      for (const channel of noise) expect(Math.abs(channel - share)).toBeLessThan(0.05)
    }
  })

  test('a picture moved by (1, -2) shows its pixels one to the right and two up', () => {
    const source = picture(12, 12)
    source.data[(6 * 12 + 5) * 3] = 1
    const out = moved(source, { left: 3, top: 3, width: 6, height: 6 }, 1, -2, 'bicubic')
    expect(out.data[(1 * 6 + 3) * 3]).toBe(1)
    expect(out.data.reduce((a, b) => a + b)).toBe(1)
  })

  test.each(['bicubic', 'lanczos', 'lanczos8'] as const)(
    '%s puts a slope where a part of a pixel says',
    (filter) => {
      const source = picture(32, 32)
      for (let i = 0; i < source.data.length; i++) source.data[i] = Math.floor(i / 3) % 32
      const out = moved(source, { left: 8, top: 8, width: 8, height: 8 }, 0.25, 0.5, filter)
      // out(x) = source(x + 8 - 0.25); Lanczos with three lobes ripples by about a hundredth on a slope
      for (let x = 0; x < 8; x++) expect(out.data[3 * x]).toBeCloseTo(x + 7.75, filter === 'bicubic' ? 4 : 1)
    },
  )

  test('a bar without a figure is not reached, and of nothing there is no median', () => {
    expect(passes({ what: '', figure: null, most: 1 })).toBe(false)
    expect(passes({ what: '', figure: 1, most: 1 })).toBe(true)
    expect(passes({ what: '', figure: 94.9, least: 95 })).toBe(false)
    expect([median([]), rms([]), worst([])]).toEqual([null, null, null])
    expect([median([3, 1, 2, 10]), rms([3, 4, 0, 0]), worst([1, 3])]).toEqual([2.5, 2.5, 3])
  })
})
