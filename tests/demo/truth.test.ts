// What truth.json says about the demo footage, measured on the footage itself. All of it is planted: we made the plate.
import { readFileSync } from 'node:fs'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { cleanFrame, momentPicture, renderScene, type SceneTruth, sceneTruth } from '../../src/demo/scene.js'
import {
  type Box,
  fitShift,
  gradientEnergy,
  linearOf,
  logLuminance,
  meanLight,
  statistics,
} from './measure.js'

const WIDTH = 240
const HEIGHT = 135
const OPTIONS = { seed: 7, width: WIDTH, height: HEIGHT, frames: 40 }
let root: string
let truth: SceneTruth

beforeAll(async () => {
  root = await mkdtemp(join(tmpdir(), 'offcut-truth-'))
  truth = await renderScene(root, OPTIONS)
})
afterAll(() => rm(root, { recursive: true, force: true }))

/** A part of the plate in stage units (960 x 540), as pixels of the test's plate. */
const part = (x: number, y: number, w: number, h: number): Box => ({
  x: Math.round(x / 4),
  y: Math.round(y / 4),
  w: Math.round(w / 4),
  h: Math.round(h / 4),
})
const WINDOW = part(40, 100, 110, 88)
/** Plain plaster, away from the kiosk and above all heads. */
const PLASTER = part(190, 110, 90, 70)
const WATER = part(0, 470, 960, 60)

async function plateFrame(number: number): Promise<Float32Array> {
  const path = join(root, truth.plate.pattern.replace('####', String(number)))
  const raw = await sharp(path).toColourspace('rgb16').raw({ depth: 'ushort' }).toBuffer()
  return linearOf(new Uint16Array(raw.buffer, raw.byteOffset, raw.length / 2))
}

async function grey(path: string): Promise<Uint8Array> {
  return await sharp(join(root, path)).toColourspace('b-w').raw().toBuffer()
}

describe('exposure and sway', () => {
  test('a static patch of the plate changes by the truth’s stops, within its noise', async () => {
    const rest = meanLight(await plateFrame(1002), WIDTH, PLASTER)
    for (const number of [1009, 1017, 1022, 1038]) {
      const stops = Math.log2(meanLight(await plateFrame(number), WIDTH, PLASTER) / rest)
      const told = truth.frames[number - 1001].exposureStops - truth.frames[1].exposureStops
      // 400 pixels with 2 per cent of noise leave 0.002 stops between two frames; this is three times that.
      expect(Math.abs(stops - told), `frame ${number}`).toBeLessThan(0.006)
    }
  })

  test('the drift wanders over about a quarter of a stop', () => {
    const all = sceneTruth().frames.map((f) => f.exposureStops)
    const span = Math.max(...all) - Math.min(...all)
    expect(span).toBeGreaterThan(0.12)
    expect(span).toBeLessThan(0.32)
  })

  test('the offset that lays a donor on a target is the target’s sway less the donor’s', () => {
    // Noise-free and without what moves, so that the fit's own error is all that is left.
    const still = { porter: true, shadow: true }
    const pairs = [
      [1002, 1010],
      [1010, 1022],
      [1017, 1005],
    ] as const
    for (const [target, donor] of pairs) {
      const t = truth.frames[target - 1001]
      const d = truth.frames[donor - 1001]
      const told = { dx: t.dx - d.dx, dy: t.dy - d.dy }
      expect(Math.hypot(told.dx, told.dy), 'the pair moves enough to tell a sign').toBeGreaterThan(0.1)
      const found = fitShift(
        logLuminance(cleanFrame(OPTIONS, target, still).data),
        logLuminance(cleanFrame(OPTIONS, donor, still).data),
        WIDTH,
        WINDOW,
      )
      const error = Math.hypot(found.dx - told.dx, found.dy - told.dy)
      expect(error, `${target} on ${donor}`).toBeLessThan(0.02)
    }
  })

  test('sway makes no frame softer than another', () => {
    const energies = [1001, 1005, 1008, 1013, 1020, 1033].map((number) => {
      const { data } = cleanFrame(OPTIONS, number)
      return gradientEnergy(logLuminance(data), WIDTH, WINDOW)
    })
    const spread = Math.max(...energies) / Math.min(...energies)
    // Resampling alone: pixels that lie elsewhere on an edge change the sum of 616 of them by a few per cent.
    expect(spread).toBeLessThan(1.06)
  })
})

describe('the porter', () => {
  const middle = () => Math.round((truth.hide.first + truth.hide.last) / 2)

  test('outside the mask a frame is the clean frame plus the noise that the truth states', async () => {
    const number = middle()
    const plate = await plateFrame(number)
    const { data: clean } = cleanFrame(truth, number)
    const mask = await grey(truth.hide.mask.replace('####', String(number)))
    for (let c = 0; c < 3; c++) {
      const z: number[] = []
      for (let i = 0; i < mask.length; i++) {
        const signal = clean[3 * i + c]
        const sigma = Math.sqrt(truth.noise.perLight[c] * signal + truth.noise.floor[c])
        // Near white and black clipping cuts the noise off.
        if (mask[i] === 0 && signal < 1 - 5 * sigma && signal > 5 * sigma)
          z.push((plate[3 * i + c] - signal) / sigma)
      }
      const { mean, variance } = statistics(z)
      expect(z.length).toBeGreaterThan(20_000)
      // Five standard errors of either for 20,000 independent samples.
      expect(Math.abs(mean)).toBeLessThan(5 / Math.sqrt(20_000))
      expect(Math.abs(variance - 1)).toBeLessThan(5 * Math.sqrt(2 / 20_000))
    }
  })

  test('the mask is white wherever porter, cart or their shade change the picture, and little more', async () => {
    for (let number = truth.hide.first; number <= truth.hide.last; number++) {
      const { data: without } = cleanFrame(truth, number)
      const { data: all } = cleanFrame(truth, number, {})
      const mask = await grey(truth.hide.mask.replace('####', String(number)))
      const still = await grey(truth.hide.stillMask)
      let changed = 0
      let white = 0
      for (let i = 0; i < mask.length; i++) {
        const change = Math.abs(all[3 * i + 1] / without[3 * i + 1] - 1)
        if (mask[i] === 255) white++
        if (change > 0.01) changed++
        if (change > 0.01) expect(mask[i], `frame ${number}, pixel ${i}`).toBe(255)
        expect(still[i]).toBeGreaterThanOrEqual(mask[i])
      }
      expect(changed).toBeGreaterThan(300)
      expect(white).toBeLessThan(3 * changed)
    }
  })

  test('frames said to be empty show the same place, and the others do not', () => {
    const { box, empty } = truth.hide
    const state = (number: number) => {
      const { data } = cleanFrame(truth, number, {})
      return Float32Array.from(logLuminance(data), (v) => v - truth.frames[number - 1001].exposureStops)
    }
    const rest = state(empty[0])
    const worst = (number: number) => {
      const here = state(number)
      let largest = 0
      for (let y = box.y; y < box.y + box.h; y++) {
        for (let x = box.x; x < box.x + box.w; x++) {
          largest = Math.max(largest, Math.abs(here[y * WIDTH + x] - rest[y * WIDTH + x]))
        }
      }
      return largest
    }
    expect(empty.length).toBeGreaterThan(4)
    // Sway moves sharp edges by up to half a pixel of this small plate: well under a stop. A sleeve is two or
    // more; on a few of the other frames there is only the end of somebody's shade.
    for (const number of empty) expect(worst(number), `frame ${number}`).toBeLessThan(0.8)
    const peopled = truth.frames.map((f) => f.frame).filter((number) => !empty.includes(number))
    const seen = peopled.filter((number) => worst(number) > 0.8)
    expect(seen.length).toBeGreaterThan(0.7 * peopled.length)
  })

  test('empty frames lie before and after the range to hide, on any usual length of plate', () => {
    for (const frames of [40, 120, 160, 240]) {
      const { hide } = sceneTruth({ frames })
      expect(Math.min(...hide.empty), `${frames} frames`).toBeLessThan(hide.first)
      expect(Math.max(...hide.empty), `${frames} frames`).toBeGreaterThan(hide.last)
    }
  })
})

describe('moments', () => {
  test('README borrows the shadow for a range that holds all of it, and picks the run that lands its peak', () => {
    const { shadow } = sceneTruth()
    const [, first, last, peak, picked] =
      /--mask demo\/footage\/(?:\S+) --frames (\d+)-(\d+) --peak (\d+) --darker --out shadow\noffcut patch shadow --pick run\+(\d+)/
        .exec(readFileSync(new URL('../../README.md', import.meta.url), 'utf8'))!
        .map(Number)
    expect({ peak, picked }).toEqual({ peak: shadow.target.peak, picked: shadow.timeOffset })
    expect(first + picked).toBeLessThan(shadow.start)
    expect(last + picked).toBeGreaterThan(shadow.end)
  })

  for (const name of ['shadow', 'reflection'] as const) {
    test(`the ${name} is as deep as the truth says, where it says and when`, () => {
      const moment = truth[name]
      const sign = name === 'shadow' ? -1 : 1
      const { box } = moment
      for (const number of [moment.start, moment.peak, moment.end]) {
        const { data: lit } = cleanFrame(truth, number, {})
        const { data: quiet } = cleanFrame(truth, number, { [name]: true })
        const a = logLuminance(lit)
        const b = logLuminance(quiet)
        let deepest = 0
        let sum = 0
        for (let y = box.y; y < box.y + box.h; y++) {
          for (let x = box.x; x < box.x + box.w; x++) {
            const stops = sign * (a[y * WIDTH + x] - b[y * WIDTH + x])
            deepest = Math.max(deepest, stops)
            sum += stops
          }
        }
        const told = moment.depths[number - 1001]
        // The truth is stated for grey; the wall is a little warm, which shifts the weights of the channels.
        expect(Math.abs(deepest - told.deepest), `frame ${number}`).toBeLessThan(
          0.012 + 0.02 * moment.depthStops,
        )
        expect(Math.abs(sum / (box.w * box.h) - told.mean), `frame ${number}`).toBeLessThan(0.012)
      }
      expect(moment.depths[moment.peak - 1001].deepest).toBe(moment.depthStops)
    })

    test(`the ${name}’s picture is the ratio it leaves on the plate`, () => {
      const moment = truth[name]
      const told = momentPicture(truth, name, moment.peak).data
      const a = logLuminance(cleanFrame(truth, moment.peak, {}).data)
      const b = logLuminance(cleanFrame(truth, moment.peak, { [name]: true }).data)
      let square = 0
      let changed = 0
      for (let y = moment.box.y; y < moment.box.y + moment.box.h; y++) {
        for (let x = moment.box.x; x < moment.box.x + moment.box.w; x++) {
          const i = y * WIDTH + x
          square += (a[i] - b[i] - told[i]) ** 2
          if (Math.abs(told[i]) > 0.1) changed++
        }
      }
      expect(changed).toBeGreaterThan(50)
      expect(Math.sqrt(square / (moment.box.w * moment.box.h))).toBeLessThan(0.015)
    })

    test(`before its start and after its end the ${name} is not there, and the target range is quiet`, () => {
      const { depths, start, end, target, timeOffset, peak, depthStops } = sceneTruth()[name]
      for (const { frame, deepest } of depths) {
        const inside = frame >= start && frame <= end
        if (inside) expect(deepest).toBeGreaterThan(0)
        else expect(deepest).toBeLessThan(0.05 * depthStops)
        if (frame >= target.first && frame <= target.last) expect(deepest).toBe(0)
      }
      expect(peak - target.peak).toBe(timeOffset)
      expect(target.first + timeOffset).toBeLessThanOrEqual(start)
      expect(target.last + timeOffset).toBeGreaterThanOrEqual(end)
      expect(target.last + timeOffset).toBeLessThanOrEqual(1160)
    })
  }

  test('the porter is hidden at a time when no light moves', () => {
    const { hide, shadow, reflection } = sceneTruth()
    for (const { depths } of [shadow, reflection]) {
      for (const { frame, deepest } of depths) {
        if (frame >= hide.first && frame <= hide.last) expect(deepest).toBe(0)
      }
    }
  })
})

test('the water moves from frame to frame by far more than the noise', () => {
  const a = cleanFrame(OPTIONS, 1010).data
  const b = cleanFrame(OPTIONS, 1011).data
  let square = 0
  let noise = 0
  for (let y = WATER.y; y < WATER.y + WATER.h; y++) {
    for (let x = WATER.x; x < WATER.x + WATER.w; x++) {
      const i = 3 * (y * WIDTH + x) + 1
      square += (a[i] - b[i]) ** 2
      noise += 2 * (truth.noise.perLight[1] * a[i] + truth.noise.floor[1])
    }
  }
  expect(Math.sqrt(square / noise)).toBeGreaterThan(5)
})
