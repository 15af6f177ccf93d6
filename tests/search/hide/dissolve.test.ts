// Where one donor of a relay hands over to the next. Laws of a dissolve, and a planted plate whose light moves on in stripes that
// neither a gain nor a surface of light follows, so that no donor fits all of the range.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { dissolved } from '../../../src/search/hide/dissolve.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { type Candidate, type Result, resultSchema } from '../../../src/search/result.js'
import { type Planted, plantPlate, WIDTH } from '../../synthetic.js'

const always = () => true
const weightOf = (row: readonly { column: number; weight: number }[], column: number) =>
  row.find((share) => share.column === column)?.weight ?? 0

describe('a dissolve', () => {
  test('takes the next donor in by equal steps, half of them before the change', () => {
    const path = [...Array(8).fill(3), ...Array(8).fill(5)]
    const shares = dissolved(path, always, always)
    const next = shares.map((row) => weightOf(row, 5))
    expect(next.slice(0, 4)).toEqual([0, 0, 0, 0])
    expect(next.slice(-4)).toEqual([1, 1, 1, 1])
    for (let t = 4; t <= 12; t++) expect(next[t] - next[t - 1]).toBeCloseTo(1 / 9, 12)
  })

  test('is a cut where no frame is served by both, and where the targets are not in a row', () => {
    const path = [3, 3, 3, 5, 5, 5]
    const cut = path.map((column) => [{ column, weight: 1 }])
    expect(dissolved(path, always, () => false)).toEqual(cut)
    expect(dissolved(path, (t) => t !== 3, always)).toEqual(cut)
  })

  test('lies on frames alone that both serve, and on none behind one that they do not', () => {
    const path = [3, 3, 3, 3, 5, 5, 5, 5]
    const shares = dissolved(path, always, (t, column) => column === 5 && t !== 1)
    expect(shares.map((row) => row.length)).toEqual([1, 1, 2, 2, 1, 1, 1, 1])
    expect(shares.map((row) => weightOf(row, 5))[2]).toBeCloseTo(1 / 3, 12)
    expect(shares.map((row) => weightOf(row, 5))[3]).toBeCloseTo(2 / 3, 12)
  })

  test('of any path mixes two donors at most, of which one is the path’s own, and all shares of a frame are one', () => {
    const paths = fc.array(fc.integer({ min: 0, max: 3 }), { minLength: 2, maxLength: 40 })
    const served = fc.func(fc.boolean())
    fc.assert(
      fc.property(paths, served, (path, serves) => {
        for (const [t, row] of dissolved(path, always, serves).entries()) {
          expect(row.length).toBeLessThanOrEqual(2)
          expect(row[0].column).toBe(path[t])
          expect(row.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12)
          for (const { weight } of row) expect(weight).toBeGreaterThan(0)
          const [, other] = row
          if (other) {
            expect(other.column).not.toBe(path[t])
            expect(serves(t, other.column)).toBe(true)
          }
        }
      }),
    )
  })
})

describe('a relay over light that moves on', () => {
  const BOX = { x: 60, y: 40, w: 40, h: 40 }
  const [FIRST, LAST] = [1016, 1039]
  /** The exposure wanders, too. */
  const stops = (i: number) => 0.2 * Math.sin(i / 11)
  const lit = (i: number, x: number) => 0.12 * ((i - 27) / 12) * Math.sin(x / 4)
  let folder: string
  let plate: Planted
  let result: Result
  let relay: Candidate
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'offcut-dissolve-'))
    plate = await plantPlate(join(folder, 'plate'), {
      frames: 54,
      stops,
      lit,
      occluders: (i) => (i >= 15 && i < 39 ? [{ x: 64, y: 44, w: 30, h: 30, light: 0.03 }] : []),
    })
    result = await findDonors({ target: plate.folder, frames: `${FIRST}-${LAST}`, box: BOX, reach: 4 })
    relay = result.candidates.find((c) => c.id === 'relay-1')!
  })
  afterAll(() => rmSync(folder, { recursive: true }))

  test('dissolves, and the result says from whom to whom', () => {
    const mixed = relay.frames.filter((f) => f.stack)
    expect(mixed.length).toBeGreaterThanOrEqual(4)
    for (const { stack, donor } of mixed) {
      expect(stack).toHaveLength(2)
      const most = stack!.reduce((a, b) => (b.weight > a.weight ? b : a))
      expect(most.frame).toBe(donor)
    }
    expect(() => resultSchema.parse(result)).not.toThrow()
  })

  test('brings each of both donors to the light of every frame to which it lends', () => {
    for (const { target, stack } of relay.frames)
      for (const { frame, gain } of stack ?? [])
        for (const g of gain)
          expect(Math.abs(Math.log2(g) - (plate.stops(target) - plate.stops(frame)))).toBeLessThan(0.02)
  })

  test('changes from frame to frame as the plate does, where a cut steps', async () => {
    const steps = await stepsOf(relay)
    const cut: Candidate = { ...relay, frames: relay.frames.map(({ stack: _, ...match }) => match) }
    const cutSteps = await stepsOf(cut)
    const change = cutSteps.indexOf(Math.max(...cutSteps))
    // What is left of the cut's step beside what the plate itself does.
    expect(cutSteps[change]).toBeGreaterThan(3 * plateStep())
    expect(Math.max(...steps)).toBeLessThan(cutSteps[change] / 2.5)
  })

  /** RMS over columns of the change from frame to frame, each a mean down the region, linear light over the wall's. */
  async function stepsOf(candidate: Candidate): Promise<number[]> {
    const job = await openRepair(result)
    const pass = new HidePass(job, candidate, { addGrain: false })
    const columns: number[][] = []
    for (const match of candidate.frames) {
      const { rect, patch } = await pass.repair(match)
      columns.push(
        columnsOf(plate, match.target, (x, y) => patch.data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1]),
      )
    }
    job.close()
    return columns.slice(1).map((own, t) => rms(own.map((v, x) => v - columns[t][x])))
  }

  /** The same of the plate without grain: the stripes move on by so much. */
  function plateStep(): number {
    const at = (i: number) => Array.from({ length: BOX.w }, (_, x) => 2 ** lit(i, BOX.x + x))
    return rms(at(28).map((v, x) => v - at(27)[x]))
  }

  function columnsOf(of: Planted, frame: number, at: (x: number, y: number) => number): number[] {
    const clean = of.clean(frame)
    return Array.from({ length: BOX.w }, (_, k) => {
      const x = BOX.x + k
      let sum = 0
      for (let y = BOX.y; y < BOX.y + BOX.h; y++) sum += at(x, y) / clean[3 * (y * WIDTH + x) + 1]
      return sum / BOX.h
    })
  }
})

const rms = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length)
