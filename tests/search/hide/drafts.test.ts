// Ways to fill a range, read off matrices whose costs were chosen: what is best is plain to see in them.
import { describe, expect, test } from 'vitest'
import { shift } from '../../../src/raster/transform.js'
import { holds, mirrors, relays, runs, stacks } from '../../../src/search/hide/drafts.js'
import { groupSimilar } from '../../../src/search/hide/group-similar.js'
import type { Matrix } from '../../../src/search/hide/matrix.js'
import type { Registered } from '../../../src/search/register.js'
import type { Candidate } from '../../../src/search/result.js'

const at = (frame: number, dx = 0, plate = 0) => ({ plate, frame, pose: shift(dx, 0) }) as Registered

/** Targets from 1010, donors from 1001; a donor's cost, and whether it is clean, are as chosen. */
function matrixOf(
  targets: number,
  donors: readonly Registered[],
  cost: (target: number, donor: number) => number,
  clean: (donor: number) => number = () => 1,
): Matrix {
  return {
    targets: Array.from({ length: targets }, (_, i) => at(1010 + i)),
    donors,
    cost: (t, d) => cost(1010 + t, donors[d].frame),
    costOf: (t, d) => cost(1010 + t, donors[d].frame),
    parts: [{ x: 0, y: 0, w: 8, h: 8 }],
    unit: 1e-4,
    expected: () => ({ db: 40, low: 38, high: 42, shortfall: 1 }),
    stateOf: () => 0,
    usual: [],
    dirt: () => new Uint8Array(0),
    pair: (_, d) => ({ ncc: 1, stops: 0, seam: 1, expected: 40, clean: clean(donors[d].frame) }),
    steady: new Map(),
    frames: [],
    surround: new Int32Array(),
    window: { x: 0, y: 0, w: 8, h: 8 },
  }
}

const DONORS = Array.from({ length: 30 }, (_, i) => at(1001 + i))
const columns = (draft: { shares: readonly (readonly { column: number }[])[] }) =>
  draft.shares.map(([{ column }]) => DONORS[column].frame)

describe('over three frames with a donor for every frame from 1001 to 1030', () => {
  const even = matrixOf(3, DONORS, () => 1)

  test('a hold is one donor for all frames', () => {
    const hold = holds(even).find((d) => d.id === 'hold-1020')!
    expect(columns(hold)).toEqual([1020, 1020, 1020])
    expect(hold).toMatchObject({ kind: 'hold', timeOffset: null, cost: 1 })
    expect(holds(even)).toHaveLength(30)
  })

  test('a run keeps its time offset, and is dropped where it leaves the plate', () => {
    const run = runs(even).find((d) => d.id === 'run+9')!
    expect(columns(run)).toEqual([1019, 1020, 1021])
    expect(run.timeOffset).toBe(9)
    const offsets = runs(even).map((d) => d.timeOffset!)
    expect(Math.min(...offsets)).toBe(1001 - 1010)
    expect(Math.max(...offsets)).toBe(1030 - 1012)
  })

  test('a mirror plays backwards about its sum; over a single frame there is none', () => {
    const mirror = mirrors(even).find((d) => d.id === 'mirror-2030')!
    expect(columns(mirror)).toEqual([1020, 1019, 1018])
    expect(mirrors(matrixOf(1, DONORS, () => 1))).toEqual([])
  })

  test('a gap in the plate takes the runs that would cross it', () => {
    const gapped = DONORS.filter((d) => d.frame !== 1020)
    const ids = runs(matrixOf(3, gapped, () => 1)).map((d) => d.id)
    for (const id of ['run+8', 'run+9', 'run+10']) expect(ids).not.toContain(id)
    expect(ids).toContain('run+7')
    expect(ids).toContain('run+11')
  })

  test('out of reach on one frame is out of reach for the whole range', () => {
    const matrix = matrixOf(3, DONORS, (t, d) => (t === 1011 && d === 1020 ? Number.POSITIVE_INFINITY : 1))
    expect(holds(matrix).map((d) => d.id)).not.toContain('hold-1020')
    expect(runs(matrix).map((d) => d.id)).not.toContain('run+9')
  })

  test('the worst frame weighs a quarter beside the mean', () => {
    const [hold] = holds(matrixOf(2, [at(1020)], (t) => (t === 1010 ? 1 : 3)))
    expect(hold.cost).toBeCloseTo(0.75 * 2 + 0.25 * 3, 12)
  })

  test('donors of a second plate are told apart in the id', () => {
    const [hold] = holds(matrixOf(2, [at(1020, 0, 1)], () => 1))
    expect(hold).toMatchObject({ id: 'hold-1020.p2', plate: 1 })
  })
})

describe('a relay', () => {
  /** 1005 is good for the first half, 1025 for the second; each costs `bad` in the other's. */
  const halves = (bad: number, jump = 0) =>
    matrixOf(6, [at(1005), at(1025, jump)], (t, d) => (t < 1013 === (d === 1005) ? 1 : bad))

  test('changes once where that gains more than a change costs', () => {
    const [relay] = relays(halves(5))
    expect(relay.shares.map(([{ column }]) => column)).toEqual([0, 0, 0, 1, 1, 1])
  })

  test('stays with its donor where it gains less: that is a hold', () => {
    // Three frames that cost 0.4 more each are less than the price of a change, 1.5.
    expect(relays(halves(1.4))).toEqual([])
  })

  test('pays for the jump of the picture at the change', () => {
    // Three frames at 4 more each gain 12, less 1.5: a jump of 10 px is worth it, one of 11 is not.
    expect(relays(halves(5, 10))).toHaveLength(1)
    expect(relays(halves(5, 11))).toEqual([])
  })
})

describe('a stack', () => {
  test('takes clean donors alone, the better the more of each, and its shares add up to one', () => {
    const matrix = matrixOf(
      2,
      DONORS,
      (_, d) => 1 + (d - 1001) / 10,
      (d) => (d % 2 === 0 ? 0.5 : 1),
    )
    const [stack] = stacks(matrix)
    for (const row of stack.shares) {
      expect(row.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 12)
      for (const { column } of row) expect(DONORS[column].frame % 2).toBe(1)
      const weights = row.map(({ weight }) => weight)
      expect(weights).toEqual([...weights].sort((a, b) => b - a))
    }
  })

  test('needs three donors', () => {
    const few = (n: number) => stacks(matrixOf(2, DONORS.slice(0, n), () => 1))
    expect(few(2)).toEqual([])
    expect(few(3)).toHaveLength(1)
  })

  test('of equal donors costs what they have in common, and its share of the rest', () => {
    const [stack] = stacks(matrixOf(2, DONORS.slice(0, 4), () => 1))
    expect(stack.cost).toBeCloseTo(0.68 + 0.32 / 4, 12)
  })
})

describe('near-equal candidates', () => {
  const hold = (donor: number, score: number): Candidate =>
    ({ id: `hold-${donor}`, kind: 'hold', donor: 0, score, frames: [{ donor }] }) as unknown as Candidate

  test('of one quiet stretch are one row, the best, with the others named', () => {
    const rows = groupSimilar(
      [hold(1010, 90), hold(1012, 89), hold(1025, 80)],
      matrixOf(1, DONORS, () => 1),
    )
    expect(rows.map((r) => r.id)).toEqual(['hold-1010', 'hold-1025'])
    expect(rows[0].alternatives).toEqual([{ id: 'hold-1012', score: 89 }])
  })

  test('with somebody between them are two', () => {
    const porter = matrixOf(1, DONORS, (_, d) => (d === 1011 ? 50 : 1))
    expect(groupSimilar([hold(1010, 90), hold(1012, 89)], porter).map((r) => r.id)).toEqual([
      'hold-1010',
      'hold-1012',
    ])
  })
})
