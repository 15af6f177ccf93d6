// Planted truth: a still wall before a codec that changes a known share of its blocks from each frame to the next, within the region
// another one than beside it. Those frames that show the region best are those on which it changes most there.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { emptySteps, regionPace, type Step, stepsOver } from '../../../src/repair/hide/region-pace.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { writeCodes } from '../../codes.js'
import { grainOf, random, recoded, texturedWall } from '../../synthetic.js'
import { resultFor } from '../job.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-region-pace-'))
afterAll(() => rmSync(root, { recursive: true }))

const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)

describe('what is to change in a region', () => {
  const wanted = new Map([
    [1002, 4],
    [1003, 1],
  ])

  test('is what changes in it when the plate beside it changes as on the targets, one wild step among them or not', () => {
    const steps = range(0, 11).map((k): Step => ({ beside: k < 6 ? 1 + 0.01 * k : 4, there: k < 6 ? 5 : 2 }))
    expect([...regionPace(wanted, steps)!]).toEqual([
      [1002, 2],
      [1003, 5],
    ])
    const wild = steps.map((step, k) => (k === 0 ? { ...step, there: 900 } : step))
    expect(regionPace(wanted, wild)!.get(1003)).toBe(5)
  })

  test('is told by what changes beside it where both go together, and by nothing where few frames show it empty', () => {
    const along = range(1, 12).map((k): Step => ({ beside: k, there: 3 * k }))
    expect(regionPace(wanted, along)).toBeNull()
    const few = range(1, 7).map((k): Step => ({ beside: k, there: 8 - k }))
    expect(regionPace(wanted, few)).toBeNull()
  })
})

const [W, H, FRAMES] = [160, 120, 64]
const BOX = [48, 36, 64, 48] as const
const TARGETS = range(1001, 1012)
/** Who is held lies alone, so that nobody beside him lends his grain. */
const HELD = 1064
const BEST = range(1014, 1026)
const OTHERS = range(1028, 1060)
const CODES = 3
const isInside = (x: number, y: number) =>
  x >= BOX[0] && x < BOX[0] + BOX[2] && y >= BOX[1] && y < BOX[1] + BOX[3]

/** Display codes, red, green and blue alike. @param shareOf of a frame's blocks within the region that change to it */
function shots(shareOf: (frame: number) => number): Float64Array[] {
  const [even, round] = [random(11), random(5)]
  const wall = texturedWall(3, 9)
  let [own, beside] = [grainOf(1, W * H).slice(), grainOf(901, W * H).slice()]
  return range(1001, 1000 + FRAMES).map((frame) => {
    const share = 0.1 + 0.3 * round()
    own = recoded(own, grainOf(frame, W * H), W, () => even() < shareOf(frame))
    beside = recoded(beside, grainOf(1000 + frame, W * H), W, () => even() < share)
    return Float64Array.from(own, (n, i) => {
      const [x, y] = [i % W, Math.floor(i / W)]
      return 110 + 40 * wall(x, y) + CODES * (isInside(x, y) ? n : beside[i])
    })
  })
}

const decode = (code: number) =>
  code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
const encode = (v: number) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

async function planted(shot: readonly Float64Array[]): Promise<{ result: Result; hold: Candidate }> {
  const folder = mkdtempSync(join(root, 'plate-'))
  for (const [f, codes] of shot.entries()) {
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++) {
      const [x, y] = [i % W, Math.floor(i / W)]
      const isHidden = TARGETS.includes(1001 + f) && isInside(x, y)
      rgb.fill(isHidden ? 0.02 + 0.001 * ((7 * f + x) % 20) : decode(codes[i]), 3 * i, 3 * i + 3)
    }
    await writeCodes(join(folder, `wall.${1001 + f}.png`), rgb, W, H)
  }
  const lendings = TARGETS.map((target) => ({ target, donor: HELD }))
  const { result, candidate } = resultFor(folder, lendings, { frames: FRAMES, box: BOX })
  const lending = [...BEST, ...OTHERS, HELD]
  const matrix = {
    targets: TARGETS,
    donors: lending.map((frame) => ({ plate: 0, frame })),
    quality: TARGETS.map(() => lending.map((frame) => (BEST.includes(frame) ? 95 : 85))),
  }
  const hold: Candidate = { ...candidate, id: 'hold-1064', kind: 'hold' }
  return { result: { ...result, candidates: [hold], matrix }, hold }
}

/** RMS change of green from frame to frame well inside the region, codes. */
function changeOf(pictures: readonly ((x: number, y: number) => number)[]): number {
  let [sum, n] = [0, 0]
  for (let f = 1; f < pictures.length; f++)
    for (let y = BOX[1] + 4; y < BOX[1] + BOX[3] - 4; y++)
      for (let x = BOX[0] + 4; x < BOX[0] + BOX[2] - 4; x++, n++)
        sum += (pictures[f](x, y) - pictures[f - 1](x, y)) ** 2
  return Math.sqrt(sum / n)
}

describe('a held frame’s made noise', () => {
  test.each([0.08, 0.3])(
    'changes by 0.75 to 1.25 of what the region does, of which a share of %d is another one, though it changes thrice as fast on the best frames',
    async (share) => {
      const shot = shots((frame) => (BEST.includes(frame) ? 3 * share : share))
      const { result, hold } = await planted(shot)
      const job = await openRepair(result)
      const pass = new HidePass(job, hold)
      const made: ((x: number, y: number) => number)[] = []
      for (const match of hold.frames) {
        const { repaired, rect } = await pass.repair(match)
        const data = repaired.data.slice()
        made.push((x, y) => encode(data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1]))
      }
      job.close()
      const truth = TARGETS.map((_, f) => (x: number, y: number) => shot[f][y * W + x])
      const ratio = changeOf(made) / changeOf(truth)
      expect(ratio).toBeGreaterThan(0.75)
      expect(ratio).toBeLessThan(1.25)
    },
  )
})

test('frames on which the region is as empty as on the one before are an even share of all there are', async () => {
  const { result } = await planted(shots(() => 0.1).slice(0, 1))
  const steps = emptySteps(result)
  expect(steps.length).toBe(24)
  expect(steps.every((frame) => [...BEST, ...OTHERS].includes(frame - 1))).toBe(true)
  expect(steps[0]).toBe(1015)
  expect(steps.at(-1)!).toBeGreaterThan(1055)
  expect(emptySteps({ ...result, matrix: undefined })).toEqual([])
})

test('steps in a row are the same as each by itself, and no frame of them is read twice', async () => {
  const { result } = await planted(shots((frame) => 0.05 * (frame % 5)).slice(0, 20))
  const job = await openRepair(result)
  const { source } = job.target
  const read: number[] = []
  const counting = {
    ...source,
    read: (...args: Parameters<typeof source.read>) => {
      read.push(args[0])
      return source.read(...args)
    },
  }
  const counted = { ...job, target: { ...job.target, source: counting } }
  const frames = [1003, 1004, 1005, 1008, 1010, 1011]
  const together = await stepsOver(counted, frames)
  expect(read).toEqual([1002, 1003, 1004, 1005, 1007, 1008, 1009, 1010, 1011])
  const alone: Step[] = []
  for (const frame of frames) alone.push(...(await stepsOver(job, [frame])))
  job.close()
  expect(together).toHaveLength(frames.length)
  expect(together).toEqual(alone)
})
