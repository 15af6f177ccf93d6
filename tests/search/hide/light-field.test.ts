// Light that differs over the region. Planted truth: the stops of every place of every frame.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { repairFrame } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { findDonors } from '../../../src/search/hide/find.js'
import type { FrameMatch, Result } from '../../../src/search/result.js'
import { type Occluder, type Planted, plantPlate, WIDTH } from '../../synthetic.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-field-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 60, y: 45, w: 32, h: 26 }
const MIDDLE = { x: 60 + 31 / 2, y: 45 + 25 / 2 }
const porter: Occluder = { x: 62, y: 47, w: 26, h: 22, light: 0.03 }
const isTarget = (i: number) => i >= 12 && i < 18

type Lit = (index: number, x: number, y: number) => number

async function search(name: string, lit: Lit, crowd: readonly Occluder[] = []): Promise<[Planted, Result]> {
  const plate = await plantPlate(join(folder, name), {
    frames: 30,
    lit,
    occluders: (i) => (isTarget(i) ? [porter, ...(i === 15 ? crowd : [])] : []),
  })
  return [
    plate,
    await findDonors({ target: plate.folder, frames: '1013-1018', box: BOX, reach: 4, keep: 12 }),
  ]
}

/** What a match says of the light at a place, stops of green. */
function said({ gain, field }: FrameMatch, x: number, y: number): number {
  const stops = Math.log2(gain[1])
  if (field === undefined) return stops
  const [u, v] = [(x - field.x) / field.span, (y - field.y) / field.span]
  const terms = [u, v, u * u - v * v, 2 * u * v]
  return stops + field.stops.reduce((sum, term, k) => sum + term[1] * terms[k], 0)
}

const CORNERS = [
  [BOX.x, BOX.y],
  [BOX.x + BOX.w, BOX.y],
  [BOX.x, BOX.y + BOX.h],
  [BOX.x + BOX.w, BOX.y + BOX.h],
  [MIDDLE.x, MIDDLE.y],
] as const

function worst({ candidates }: Result, lit: Lit): number {
  const errors = candidates
    .filter((c) => c.kind === 'hold' || c.kind === 'run' || c.kind === 'relay')
    .flatMap((c) =>
      c.frames.flatMap((f) =>
        CORNERS.map(([x, y]) =>
          Math.abs(said(f, x, y) - (lit(f.target - 1001, x, y) - lit(f.donor - 1001, x, y))),
        ),
      ),
    )
  return Math.max(...errors)
}

const LIGHTS: { title: string; lit: Lit; within: number; beside: number }[] = [
  {
    title: 'the sun comes round: a ramp from left to right that grows from frame to frame',
    lit: (i, x) => (0.015 * i * (x - MIDDLE.x)) / 40,
    within: 0.02,
    beside: 0.035,
  },
  {
    title: 'a cloud runs over: the ramp turns and is another one on every frame',
    lit: (i, x, y) =>
      0.06 * (Math.sin(i / 2) * ((x - MIDDLE.x) / 40) + Math.cos(i / 2) * ((y - MIDDLE.y) / 40)),
    within: 0.025,
    beside: 0.035,
  },
]

describe.each(LIGHTS)('$title', ({ title, lit, within, beside }) => {
  let plate: Planted
  let result: Result
  beforeAll(async () => {
    ;[plate, result] = await search(title.slice(0, 9), lit)
  }, 30_000)

  test('is found at every corner of the region, where one gain for all of it is further off', () => {
    expect(result.candidates.length).toBeGreaterThan(3)
    expect(worst(result, lit)).toBeLessThan(within)
    const flat = result.candidates.map((c) => ({
      ...c,
      frames: c.frames.map(({ field: _, ...frame }) => frame),
    }))
    expect(worst({ ...result, candidates: flat }, lit)).toBeGreaterThan(beside)
  })

  test('and is lent with the pixels', async () => {
    const job = await openRepair(result)
    const found = result.candidates.find((c) => c.kind === 'hold' || c.kind === 'run')!
    const off = async (candidate: typeof found): Promise<number> => {
      let most = 0
      for (const match of candidate.frames) {
        const { rect, patch, alpha } = await repairFrame(job, candidate, match, { addGrain: false })
        const truth = plate.clean(match.target)
        // Each quarter of the region by its mean: single pixels tell grain.
        const quarters = [0, 1, 2, 3].map(() => ({ sum: 0, n: 0 }))
        for (let i = 0; i < alpha.length; i++) {
          if (alpha[i] < 1) continue
          const [x, y] = [rect.x + (i % rect.w), rect.y + Math.floor(i / rect.w)]
          const lightAt = truth[3 * (y * WIDTH + x) + 1] * 2 ** lit(match.target - 1001, x, y)
          const quarter = quarters[(x < MIDDLE.x ? 0 : 1) + (y < MIDDLE.y ? 0 : 2)]
          quarter.sum += Math.log2(patch.data[3 * i + 1] / lightAt)
          quarter.n++
        }
        most = Math.max(most, ...quarters.map(({ sum, n }) => Math.abs(sum / n)))
      }
      return most
    }
    const flat = { ...found, frames: found.frames.map(({ field: _, ...frame }) => frame) }
    expect(await off(found)).toBeLessThan(0.5 * (await off(flat)))
    job.close()
  })
})

test('light that is the same everywhere has no field', async () => {
  const [, { candidates }] = await search('even', (i) => 0.05 * Math.sin(i))
  for (const c of candidates) for (const f of c.frames) expect(f.field).toBeUndefined()
})

test('people who crowd one side of the surround on one frame are no ramp', async () => {
  const crowd = [{ x: 92, y: 20, w: 60, h: 90, light: 0.21, tint: [1.15, 0.95, 1] as const }]
  const [, result] = await search('crowd', () => 0, crowd)
  expect(worst(result, () => 0)).toBeLessThan(0.03)
})
