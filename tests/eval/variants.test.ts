// What is planted beside walkers (things that stand for a while, thirds that are covered) is what the case says of it.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { normal, randomFrom } from '../random.js'
import { picture } from '../resample.js'
import type { Case } from './case.js'
import { type Disturbance, findDisturbance } from './disturbance.js'
import { type Footage, openFootage, readLinear, toDisplay, toLinear } from './footage.js'
import { findOracle } from './oracle.js'
import { labelsLike, pickStates } from './pick-states.js'
import { describeCase, plant, plateFolder, readTruth } from './plant.js'
import { regionPixels } from './region.js'
import { psnr, squaredError } from './score.js'
import { chooseStanding, hides, type Standing, standingPainter } from './standing.js'
import { chooseThirds, NO_THIRD, paintThird, thirdsOf } from './thirds.js'

const WIDTH = 320
const HEIGHT = 200
const FRAMES = 60
const BOX = { x: 128, y: 72, w: 64, h: 48 }
/** The window, 1030 to 1039, lies in the plate's middle. */
const WINDOW = { box: BOX, frames: Array.from({ length: 10 }, (_, i) => 1030 + i), disturbedShare: 0 }
/** Half a code of grain and nobody: any difference in a planted plate was planted. */
const GRAIN = 0.5

let folder: string
let footage: Footage
let disturbance: Disturbance

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'offcut-eval-variants-'))
  const random = randomFrom('wall')
  const wall = Float32Array.from({ length: WIDTH * HEIGHT * 3 }, () => 100 + 40 * random())
  for (let f = 0; f < FRAMES; f++) {
    const codes = Uint8Array.from(wall, (v) => Math.round(v + GRAIN * normal(random)))
    await sharp(codes, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
      .png({ compressionLevel: 1 })
      .toFile(join(folder, `wall.${1001 + f}.png`))
  }
  footage = await openFootage(folder)
  disturbance = await findDisturbance(footage)
}, 60_000)

afterAll(() => rm(folder, { recursive: true, force: true }))

async function planted(variant: 'state' | 'never', seed: string): Promise<{ at: string; planted: Case }> {
  const planted = describeCase(footage, disturbance, WINDOW, { variant, number: 1, seed })
  const at = join(folder, `${variant}-${seed}`)
  await plant(footage, [{ folder: at, planted }], () => {})
  return { at, planted }
}

describe('what stands there for a while', () => {
  const frames = Array.from({ length: 300 }, (_, i) => 1001 + i)
  const empty = frames.map(() => true)
  const chosen = Array.from({ length: 60 }, (_, i) => {
    const from = 10 + 4 * i
    const window = frames.slice(from, from + 10)
    return { window, standing: chooseStanding(BOX, window, frames, empty, { number: i + 1, seed: 'k' }) }
  })

  test('is there in all of the window and in 15 to 40 % of the frames', () => {
    for (const { window, standing } of chosen) {
      const share = (standing.last - standing.first + 1) / frames.length
      expect(share).toBeGreaterThanOrEqual(0.15)
      expect(share).toBeLessThanOrEqual(0.4)
      expect(standing.first).toBeLessThanOrEqual(window[0])
      expect(standing.last).toBeGreaterThanOrEqual(window[9])
    }
  })

  test('comes and goes at least three frames from the window, and within thirty on one side', () => {
    for (const { window, standing } of chosen) {
      const before = standing.first === 1001 ? Number.POSITIVE_INFINITY : window[0] - standing.first
      const after = standing.last === 1300 ? Number.POSITIVE_INFINITY : standing.last - window[9]
      expect(Math.min(before, after)).toBeGreaterThanOrEqual(3)
      // What stands there from the first frame on, or to the last one, has but one end.
      if (before + after < Number.POSITIVE_INFINITY) expect(Math.min(before, after)).toBeLessThanOrEqual(30)
    }
  })

  test('is now a lamp, now a crate of one of three shapes; some crates stick out of the region', () => {
    expect(new Set(chosen.map(({ standing }) => standing.what)).size).toBe(2)
    const crates = chosen.map(({ standing }) => standing).filter((s) => s.what === 'crate')
    expect(new Set(crates.map((s) => s.shape)).size).toBe(3)
    const inside = crates.filter(
      ({ box }) =>
        box.x >= BOX.x && box.x + box.w <= BOX.x + BOX.w && box.y >= BOX.y && box.y + box.h <= BOX.y + BOX.h,
    )
    expect(inside.length).toBeGreaterThan(0)
    expect(inside.length).toBeLessThan(crates.length)
  })

  test('a stretch without frames to lend from is not chosen where another has some', () => {
    const window = frames.slice(150, 160)
    // Only before the window is anything empty.
    const before = frames.map((f) => f < window[0])
    for (let i = 0; i < 20; i++) {
      const { first } = chooseStanding(BOX, window, frames, before, { number: i + 1, seed: 'b' })
      expect(window[0] - first).toBeGreaterThanOrEqual(6)
    }
  })

  const crate: Standing = {
    what: 'crate',
    shape: 'box',
    first: 1005,
    last: 1010,
    box: { x: 20, y: 20, w: 10, h: 10 },
    contrast: [2, 2, 2],
  }
  const grey = () => {
    const shown = picture(60, 60)
    shown.data.fill(0.1)
    return shown
  }

  test('follows the exposure of the place and carries no grain where there is none', () => {
    const painter = standingPainter(crate, grey(), grey(), 'k')
    const usual = grey()
    painter(usual, 1006)
    const brighter = grey()
    for (let i = 0; i < brighter.data.length; i++) brighter.data[i] *= 1.5
    painter(brighter, 1007)
    const at = 3 * (25 * 60 + 25)
    expect(usual.data[at] / 0.1).toBeGreaterThan(1.2)
    expect(brighter.data[at] / usual.data[at]).toBeCloseTo(1.5, 3)
    const gone = grey()
    painter(gone, 1011)
    expect(gone.data).toEqual(grey().data)
  })

  test('a lamp doubles the light in its middle and leaves it three radii away', () => {
    const lamp: Standing = { ...crate, what: 'lamp', shape: 'round', box: { x: 20, y: 20, w: 20, h: 20 } }
    const shown = grey()
    standingPainter(lamp, grey(), grey(), 'k')(shown, 1006)
    expect(shown.data[3 * (30 * 60 + 30)]).toBeGreaterThan(0.19)
    expect(shown.data[3 * (30 * 60 + 59)]).toBeCloseTo(0.1, 3)
    expect(hides(lamp, 30, 30)).toBe(false)
    expect(hides(crate, 25, 25)).toBe(true)
    expect(hides(crate, 31, 25)).toBe(false)
  })

  test('its truth shows it, and frames of the other state are labelled as unable to lend', async () => {
    const { at, planted: one } = await planted('state', 'b')
    const { first, last } = one.standing!
    for (const [i, frame] of one.frames.entries()) {
      expect(one.labels[i]).toBe(frame >= first && frame <= last ? 'empty' : 'disturbed')
    }
    const region = regionPixels(one.box, one.crop.w)
    const truth = await readTruth(at, 1035)
    const shown = await openFootage(plateFolder(at))
    const error = async (frame: number) =>
      psnr(squaredError(await readLinear(shown, frame), truth, region, region))
    const other = first > 1001 ? first - 1 : last + 1
    const same = first < 1030 ? first : last
    expect(await error(same)).toBeGreaterThan(45)
    expect(await error(other)).toBeLessThan(35)
    const oracle = await findOracle(at, one)
    expect(oracle.windowDonor).toBeGreaterThanOrEqual(first)
    expect(oracle.windowDonor).toBeLessThanOrEqual(last)
  }, 30_000)
})

describe('never empty all over', () => {
  test('the three parts are equal, at any angle', () => {
    for (const angle of [0, 0.4, 1.57, 2.5]) {
      const counts = [0, 0, 0]
      for (const third of thirdsOf(BOX, angle)) if (third !== NO_THIRD) counts[third]++
      for (const n of counts) expect(n / (counts[0] + counts[1] + counts[2])).toBeCloseTo(1 / 3, 1)
    }
  })

  test('every frame has one third covered, another one after 5 to 20 frames', () => {
    const frames = Array.from({ length: 400 }, (_, i) => i)
    const thirds = chooseThirds(frames, 'k')
    const box = { x: 0, y: 0, w: 64, h: 48 }
    const parts = thirdsOf(box, thirds.angle)
    for (const f of frames.filter((n) => n % 29 === 0)) {
      const shown = picture(64, 48)
      paintThird(shown, box, thirds, f, 'k')
      const wrong = parts.filter((part, i) => shown.data[3 * i] > 0 !== (part === thirds.covered[f]))
      expect(wrong).toHaveLength(0)
    }
    let length = 0
    for (const f of frames.slice(0, -1)) {
      length++
      if (thirds.stretch[f + 1] === thirds.stretch[f]) continue
      expect(thirds.covered[f + 1]).not.toBe(thirds.covered[f])
      expect(length).toBeGreaterThanOrEqual(5)
      expect(length).toBeLessThanOrEqual(20)
      length = 0
    }
  })

  test('the best choice of thirds reaches the grain where one donor alone is far from it', async () => {
    const { at, planted: one } = await planted('never', 'b')
    const oracle = await findOracle(at, one)
    // Grain of half a code in both pictures, rounded: 48.13 - 20 log10(sqrt(2 (1/4 + 1/12))) = 49.9 dB.
    expect(oracle.window).toBeGreaterThan(48.5)
    expect(oracle.window).toBeLessThan(51)
    expect(oracle.thirds!.alone.window).toBeLessThan(35)
    for (const [third, donor] of oracle.thirds!.windowDonors.entries()) {
      expect(one.thirds!.covered[one.frames.indexOf(donor)]).not.toBe(third)
    }
    expect(one.labels.every((l) => l === 'disturbed')).toBe(true)
  }, 30_000)
})

describe('another state of the footage itself', () => {
  const frames = Array.from({ length: 80 }, (_, i) => 1001 + i)
  // Room for three places of a region, no more.
  const shown = { frames, width: 208, height: 176 } as unknown as Footage
  /** Maps of 2 x 2 blocks: from frame 20 to 44 every fourth column is perhaps otherwise, in frame 60 somebody is there. */
  function mapsOf(first: number, last: number): Disturbance {
    const [width, height] = [104, 88]
    const maps = frames.map((_, f) =>
      Uint8Array.from({ length: width * height }, (_, b) => {
        if (f === 60) return 2
        return f >= first && f <= last && b % 4 === 0 ? 1 : 0
      }),
    )
    return { block: 2, width, height, frames: maps, restless: new Uint8Array(width * height) }
  }

  test('is found where it lasts, and its frames are the ones that can lend', () => {
    const maps = mapsOf(20, 44)
    const windows = pickStates(shown, maps, { count: 3, seed: '1' })
    expect(windows.length).toBeGreaterThan(0)
    for (const { box, frames: window } of windows) {
      expect(window[0]).toBeGreaterThanOrEqual(1021)
      expect(window[9]).toBeLessThanOrEqual(1045)
      const labels = labelsLike(maps, box, window[5] - 1001)
      for (const [f, label] of labels.entries()) {
        expect(label).toBe(f === 60 ? 'disturbed' : f >= 20 && f <= 44 ? 'empty' : 'unsure')
      }
    }
  })

  test('is none where it is the usual one, where it lasts no longer than the window, or where there is but one', () => {
    expect(pickStates(shown, mapsOf(10, 60), { count: 3, seed: '1' })).toEqual([])
    expect(pickStates(shown, mapsOf(20, 30), { count: 3, seed: '1' })).toEqual([])
    expect(pickStates(shown, mapsOf(81, 81), { count: 3, seed: '1' })).toEqual([])
  })
})

test('display code and linear light are each other undone', () => {
  for (const v of [0, 0.01, 0.04, 0.2, 0.7, 1]) expect(toDisplay(toLinear(v))).toBeCloseTo(v, 5)
})
