// Planted truth: a wall before a sensor whose noise is twice as strong on a part of the ring, as a screen's or a lamp's is: the law of
// a plate's grain, told by light, knows nothing of it. A patch of the plate's own frames must come to 1 all the same.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { PairChange } from '../../../src/repair/finish/measured.js'
import { FinishMeter } from '../../../src/repair/finish/meter.js'
import { readingOf } from '../../../src/repair/finish/own-frames.js'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { grainRound } from '../../../src/repair/hide/plate-grain.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { writeCodes } from '../../codes.js'
import { grainOf, texturedWall } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H, FRAMES] = [160, 120, 34]
const BOX = [56, 40, 48, 40] as const
const CODES = 2
const wall = texturedWall(3, 9)
const isLoud = (x: number, y: number) => y < 40 || x < 56
const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)
const TARGETS = range(1001, 1008)

let folder: string
let result: Result
let run: Candidate
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-own-frames-'))
  for (const frame of range(1001, 1000 + FRAMES)) {
    const noise = grainOf(frame, W * H)
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++) {
      const [x, y] = [i % W, Math.floor(i / W)]
      const code = 110 + 40 * wall(x, y) + CODES * (isLoud(x, y) ? 2 : 1) * noise[i]
      rgb.fill(((code / 255 + 0.055) / 1.055) ** 2.4, 3 * i, 3 * i + 3)
    }
    await writeCodes(join(folder, `wall.${frame}.png`), rgb, W, H)
  }
  const made = resultFor(
    folder,
    TARGETS.map((target) => ({ target, donor: target + 20 })),
    { frames: FRAMES, box: BOX },
  )
  run = { ...made.candidate, id: 'run+20', kind: 'run', timeOffset: 20 }
  const lending = range(1010, 1000 + FRAMES)
  const matrix = {
    targets: TARGETS,
    donors: lending.map((frame) => ({ plate: 0, frame })),
    quality: TARGETS.map(() => lending.map((_, i) => (i < 14 ? 95 : 60))),
  }
  result = { ...made.result, matrix, candidates: [run] }
})
afterAll(() => rmSync(folder, { recursive: true }))

/** @param weaker of the patch's grain, 1: as it is */
async function noiseOf(of: Result, weaker = 1) {
  const job = await openRepair(of)
  const [meter, plain] = [await FinishMeter.over(job), new FinishMeter(job, await grainRound(job))]
  const pass = new HidePass(job, run, { addGrain: false })
  for (const match of run.frames) {
    const made = await pass.repair(match)
    const { rect, alpha, repaired } = made
    for (let y = 0, i = 0; y < rect.h; y++)
      for (let x = 0; x < rect.w; x++, i++) {
        const code = 110 + 40 * wall(rect.x + x, rect.y + y)
        const still = ((code / 255 + 0.055) / 1.055) ** 2.4
        if (alpha[i] > 0)
          for (let c = 3 * i; c < 3 * i + 3; c++)
            repaired.data[c] = still + weaker * (repaired.data[c] - still)
      }
    for (const each of [meter, plain]) each.add(match.target, made)
  }
  job.close()
  return { own: meter.own, now: meter.done().whole, plain: plain.done().whole }
}

describe('where the ring has more grain than its light tells', () => {
  test('the plate’s own frames, taken for a patch, come to 1', async () => {
    const { now, plain } = await noiseOf(result)
    expect(plain.noise![1]).toBeLessThan(0.7)
    for (const value of [...now.noise!, now.flicker!]) expect(Math.abs(value - 1)).toBeLessThan(0.1)
  })

  test('half of the plate’s grain comes to half', async () => {
    const { now } = await noiseOf(result, 0.5)
    expect(Math.abs(now.noise![1] - 0.5)).toBeLessThan(0.06)
  })

  test('nothing is taken out where the camera moves, or where fewer than five frames in a row show the region empty', async () => {
    const few = result.matrix!.quality.map((row) => row.map((_, i) => (i < 4 ? 95 : 60)))
    const found = await noiseOf({ ...result, matrix: { ...result.matrix!, quality: few } })
    expect(found.own).toBeNull()
    expect(found.now).toEqual(found.plain)
    const reference = {
      model: 'shift',
      reference: 1001,
      frames: [{ plate: 0, frame: 1001, pose: null, sigma: null }],
    }
    expect((await noiseOf({ ...result, camera: reference as Result['camera'] })).own).toBeNull()
  })
})

describe('what pairs of a plate’s own frames come to', () => {
  const pairOf = (inside: number, ring: number): PairChange => {
    const side = (v: number) => ({ noise: [v, v, v] as const, flicker: v, error: 0.01, cells: 50 })
    return { inside: side(inside), ring: side(ring), sides: [], ownStray: null, spectra: null }
  }

  test('is hardly less than what all of them agree on, and nothing of what is within chance', () => {
    const far = readingOf(Array.from({ length: 8 }, () => pairOf(0.2, 1)))!
    expect(far.error).toBeCloseTo(0, 12)
    expect(far.noise[1]).toBeGreaterThan(0.2)
    expect(far.noise[1]).toBeLessThan(0.21)
    expect(readingOf(Array.from({ length: 8 }, () => pairOf(1.05, 1)))!.flicker).toBeLessThan(1.005)
    expect(readingOf(Array.from({ length: 8 }, () => pairOf(1, 1)))!.noise).toEqual([1, 1, 1])
  })

  test('has the jackknife’s error, which of a mean is its own standard error', () => {
    const values = [0.9, 1.05, 1.1, 0.98, 1.02, 0.95]
    const mean = values.reduce((a, b) => a + b, 0) / values.length
    const variance = values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (values.length - 1)
    const { error } = readingOf(values.map((v) => pairOf(v, 1)))!
    expect(error / (Math.sqrt(variance / values.length) / mean)).toBeCloseTo(1, 1)
  })

  test('is not told by three pairs, nor by pairs that contradict each other', () => {
    expect(readingOf([pairOf(2, 1), pairOf(2, 1), pairOf(2, 1)])).toBeNull()
    expect(readingOf([pairOf(9, 1), pairOf(0.5, 1), pairOf(0.5, 1), pairOf(0.4, 1)])).toBeNull()
  })
})
