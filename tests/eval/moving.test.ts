// A planted camera does what its matrices say, and they are those of a camera.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { apply, type Transform } from '../../src/raster/transform.js'
import { type Picture, picture } from '../resample.js'
import { type Case, middleOf } from './case.js'
import { type Disturbance, findDisturbance } from './disturbance.js'
import { type Footage, openFootage, readLinear, toDisplay } from './footage.js'
import { findOracle } from './oracle.js'
import { between, placeError, poseOf, regionOn, sees } from './places.js'
import { describeCase, plant, plateFolder, readTruth, takeFolder } from './plant.js'
import { psnr, squaredError } from './score.js'
import { showMoving } from './show-moving.js'
import type { Moving } from './views.js'

const WIDTH = 400
const HEIGHT = 264
const FRAMES = 80
const BOX = { x: 212, y: 96, w: 64, h: 48 }
const WINDOW = { box: BOX, frames: Array.from({ length: 10 }, (_, i) => 1030 + i), disturbedShare: 0 }
const VARIANTS: readonly Moving[] = ['pan', 'tripod', 'handheld', 'reframe']

let folder: string
let footage: Footage
let disturbance: Disturbance
const cases = new Map<Moving, Case>()

/** Waves no shorter than 7 px, without a trace of grain: what no filter can harm. */
function waves(): Uint8Array {
  const codes = new Uint8Array(WIDTH * HEIGHT * 3)
  for (let y = 0, i = 0; y < HEIGHT; y++) {
    for (let x = 0; x < WIDTH; x++) {
      for (let c = 0; c < 3; c++, i++) {
        const v =
          Math.sin(0.31 * x + 0.17 * y + c) +
          Math.sin(0.23 * y - 0.4 * x) +
          Math.sin(0.05 * x * (1 + 0.2 * c))
        codes[i] = Math.round(128 + 30 * v)
      }
    }
  }
  return codes
}

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'offcut-eval-moving-'))
  const still = await sharp(waves(), { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
    .png({ compressionLevel: 1 })
    .toBuffer()
  for (let f = 0; f < FRAMES; f++) await sharp(still).toFile(join(folder, `still.${1001 + f}.png`))
  footage = await openFootage(folder)
  disturbance = await findDisturbance(footage)
  for (const variant of VARIANTS)
    cases.set(variant, describeCase(footage, disturbance, WINDOW, { variant, number: 1, seed: 'm' }))
}, 60_000)

afterAll(() => rm(folder, { recursive: true, force: true }))

/** Middle of the light in a picture; null where there is none. */
function middleOfLight({ width, data }: Picture): { x: number; y: number } | null {
  let [sum, sx, sy] = [0, 0, 0]
  for (let i = 0; i < data.length; i += 3) {
    const p = i / 3
    sum += data[i]
    sx += data[i] * (p % width)
    sy += data[i] * Math.floor(p / width)
  }
  return sum > 1 ? { x: sx / sum, y: sy / sum } : null
}

/** A round spot of light in the dark. */
function spot(x: number, y: number): Picture {
  const out = picture(WIDTH, HEIGHT)
  for (let v = Math.floor(y) - 12; v <= y + 12; v++) {
    for (let u = Math.floor(x) - 12; u <= x + 12; u++) {
      const light = 0.5 * Math.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * 3 ** 2))
      out.data.fill(light, 3 * (v * WIDTH + u), 3 * (v * WIDTH + u) + 3)
    }
  }
  return out
}

describe.each(VARIANTS)('%s', (variant) => {
  test('a spot of light lands where the matrix of each frame puts it', () => {
    const one = cases.get(variant)!
    const { w, h } = one.crop
    let seen = 0
    for (let index = 0; index < FRAMES; index += 7) {
      for (const [x, y] of [
        [224.5, 140.25],
        [180, 130.5],
        [200.75, 202],
      ]) {
        const { pose, near } = one.motion[index]
        const lies = one.layers !== undefined && y > one.layers.nearFrom ? near! : pose!
        const at = apply(lies, x, y)
        if (at.x < 20 || at.y < 20 || at.x > w - 20 || at.y > h - 20) continue
        const shown = middleOfLight(showMoving(spot(x, y), one, index))
        expect(Math.hypot(shown!.x - at.x, shown!.y - at.y)).toBeLessThan(0.05)
        seen++
      }
    }
    expect(seen).toBeGreaterThan(8)
  })

  test('all target frames see the region well inside, drawn on whole pixels of the middle one', () => {
    const one = cases.get(variant)!
    for (const frame of WINDOW.frames) expect(sees(one, frame, 12)).toBe(true)
    const centre = apply(poseOf(one, middleOf(WINDOW)), BOX.x + 31.5, BOX.y + 23.5)
    expect(Math.abs(centre.x - (one.box.x + 31.5))).toBeLessThanOrEqual(0.5)
    expect(Math.abs(centre.y - (one.box.y + 23.5))).toBeLessThanOrEqual(0.5)
    // The region's own size but for zoom, and for what a tilted view makes of it.
    const drawn = regionOn(one, middleOf(WINDOW)).pixels.length
    for (const frame of WINDOW.frames)
      expect(Math.abs(regionOn(one, frame).pixels.length / drawn - 1)).toBeLessThan(0.04)
  })

  test('planted with its occluder, the best donor by the known matrices is as good as the truth itself', async () => {
    const one = cases.get(variant)!
    const at = join(folder, variant)
    await plant(footage, [{ folder: at, planted: one }], () => {})
    const oracle = await findOracle(at, one)
    expect(oracle.window).toBeGreaterThan(45)
    const frame = WINDOW.frames[0]
    const region = regionOn(one, frame).pixels
    const truth = await readTruth(at, frame)
    const shown = await readLinear(await openFootage(plateFolder(at)), frame)
    expect(psnr(squaredError(shown, truth, region, region))).toBeLessThan(25)
    // Beside the region nothing is painted.
    const beside = Int32Array.from({ length: one.crop.w * 8 }, (_, i) => i)
    expect(psnr(squaredError(shown, truth, beside, beside))).toBeGreaterThan(90)
  }, 60_000)
})

test('a pan and a tripod go far: many frames lie 50 to 150 px off, and some do not see all of the region', () => {
  for (const variant of ['pan', 'tripod'] as const) {
    const one = cases.get(variant)!
    const { x, y, w, h } = one.box
    const off = one.frames.map((frame) => {
      const at = apply(between(one, frame, middleOf(WINDOW)), x + w / 2, y + h / 2)
      return Math.hypot(at.x - x - w / 2, at.y - y - h / 2)
    })
    expect(off.filter((px) => px > 50 && px < 150).length).toBeGreaterThan(FRAMES / 6)
    for (const [i, frame] of one.frames.entries())
      if (!sees(one, frame)) expect(one.labels[i]).toBe('disturbed')
    expect(one.labels.filter((l) => l === 'empty').length).toBeGreaterThan(20)
  }
})

test('a tripod turns about its lens: without both cameras, what is left of its matrix is a rotation and a zoom', () => {
  const one = cases.get('tripod')!
  const focal = 1.8 * one.crop.w
  const times = (a: readonly number[], b: readonly number[]) =>
    Array.from({ length: 9 }, (_, i) => {
      const [row, column] = [Math.floor(i / 3), i % 3]
      return [0, 1, 2].reduce((sum, k) => sum + a[3 * row + k] * b[3 * k + column], 0)
    })
  const [cx, cy] = [(one.crop.w - 1) / 2, (one.crop.h - 1) / 2]
  const frameBack = [1 / focal, 0, -cx / focal, 0, 1 / focal, -cy / focal, 0, 0, 1]
  const lens = [focal, 0, (WIDTH - 1) / 2, 0, focal, (HEIGHT - 1) / 2, 0, 0, 1]
  const zooms = one.motion.map(({ pose }) => {
    const m = times(frameBack, times(pose!, lens))
    const transposed = [m[0], m[3], m[6], m[1], m[4], m[7], m[2], m[5], m[8]]
    // (zoom R)(zoom R)' is diag(zoom^2, zoom^2, 1) up to a factor.
    const [xx, xy, xz, , yy, yz, , , zz] = times(m, transposed).map((v, _, all) => v / all[8])
    for (const off of [xy, xz, yz, xx - yy]) expect(Math.abs(off)).toBeLessThan(1e-9)
    expect(zz).toBe(1)
    return Math.sqrt(xx)
  })
  expect(Math.max(...zooms)).toBeGreaterThan(1.03)
  expect(Math.min(...zooms)).toBeLessThan(0.97)
  expect(Math.max(...zooms.map((z) => Math.abs(z - 1)))).toBeLessThanOrEqual(0.04 + 1e-9)
})

test('what is near moves further than what is far, and never before the region', () => {
  const one = cases.get('handheld')!
  const lower = one.layers!.nearFrom + 20
  let most = 0
  for (const { pose, near } of one.motion) {
    const [far, close] = [apply(pose!, 200, lower), apply(near!, 200, lower)]
    most = Math.max(most, Math.hypot(close.x - far.x, close.y - far.y))
  }
  expect(most).toBeGreaterThan(3)
  for (const frame of one.frames) {
    const { box } = regionOn(one, frame)
    const edge = apply(one.motion[one.frames.indexOf(frame)].near!, BOX.x, one.layers!.nearFrom)
    expect(edge.y).toBeGreaterThan(box.y + box.h)
  }
})

test('the other take is smaller, darker and warmer, and the one to repair lends nothing of the region', async () => {
  const one = cases.get('reframe')!
  const own = one.frames.filter((f) => !one.take!.frames.includes(f))
  expect(own).toEqual(expect.arrayContaining([...WINDOW.frames]))
  expect(Math.abs(own.length - FRAMES / 2)).toBeLessThanOrEqual(10)
  for (const frame of own) expect(one.labels[one.frames.indexOf(frame)]).toBe('disturbed')
  const to = between(one, one.take!.frames[0], WINDOW.frames[0])
  const [a, b] = [apply(to, 10, 10), apply(to, 110, 10)]
  expect(Math.hypot(b.x - a.x, b.y - a.y)).toBeCloseTo(100 / 0.92, 6)
  // Planted by the case above: the same places of both takes, left of the region, channel by channel.
  const at = join(folder, 'reframe')
  const first = await readLinear(await openFootage(plateFolder(at)), own[0])
  const other = await readLinear(await openFootage(takeFolder(at)), one.take!.frames[0])
  const sums = [0, 0, 0].map(() => ({ first: 0, other: 0 }))
  for (let y = 20; y < one.crop.h - 20; y++) {
    for (let x = 20; x < one.box.x - 40; x++) {
      const place = apply(to, x, y)
      const [u, v] = [Math.round(place.x), Math.round(place.y)]
      if (u < 0 || v < 0 || u >= one.box.x || v >= one.crop.h) continue
      for (let c = 0; c < 3; c++) {
        sums[c].first += first.data[3 * (v * one.crop.w + u) + c]
        sums[c].other += other.data[3 * (y * one.crop.w + x) + c]
      }
    }
  }
  for (const [c, gain] of [1.06, 1, 0.9].entries())
    expect(sums[c].other / sums[c].first / (gain * 2 ** -0.6)).toBeCloseTo(1, 2)
  const hidden = regionOn(one, own[0], 3).pixels
  const bare = showMoving(await readLinear(footage, own[0]), one, one.frames.indexOf(own[0]))
  const same = hidden.filter(
    (i) => Math.abs(toDisplay(first.data[3 * i]) - toDisplay(bare.data[3 * i])) < 1 / 255,
  )
  expect(same.length).toBeLessThan(0.1 * hidden.length)
})

test('a place that is off by (3, 4) is off by 5, and one that is twice as large by what the pixels lie off its corner', () => {
  const right: Transform = [1, 0, 10, 0, 1, 0, 0, 0, 1]
  const pixels = Int32Array.of(0, 1, 20)
  expect(placeError([1, 0, 13, 0, 1, 4, 0, 0, 1], right, pixels, 20)).toBeCloseTo(5, 9)
  // Found is twice the truth's place: pixels (0, 0), (1, 0), (0, 1) go to (0, 0), (2, 0), (0, 2).
  expect(placeError([2, 0, 20, 0, 2, 0, 0, 0, 1], right, pixels, 20)).toBeCloseTo(Math.sqrt(2 / 3), 9)
})
