import { describe, expect, test } from 'vitest'
import { LIMITS, MEASURE_KEYS, type MeasureKey } from '../../../src/search/measures.js'
import { scoreOf } from '../../../src/search/score.js'
import { standing } from '../../../src/sheet/data/measures.js'
import type { PageWay } from '../../../src/sheet/data/page-data.js'
import { type SortKey, sorted } from '../../../src/sheet/page/rows.js'
import { FAULTLESS, various } from '../../search/faultless.js'

function ways(key: MeasureKey, values: readonly (number | null)[]): PageWay[] {
  return values.map((value, i) => ({
    ...{ id: `hold-${i}`, row: `way-${i}`, kind: 'hold', words: '', verdict: 'holds up', score: 1 },
    ...{ donor: 0, frames: [], start: 0, fewer: null },
    measures: { ...FAULTLESS, [key]: value },
  }))
}

describe('candidates sorted by a measure', () => {
  // The score is the truth here: with all else equal, what it prices higher is better.
  test.each(MEASURE_KEYS)('by %s come in the order of the score that it alone makes', (key) => {
    const values = various(key)
    const order = sorted(ways(key, values), key).map((i) => values[i])
    const scores = order.map((value) => scoreOf({ ...FAULTLESS, [key]: value }, 'hold'))
    expect(new Set(scores).size).toBeGreaterThan(2)
    expect(scores).toEqual([...scores].sort((a, b) => b - a))
  })

  // What README says of each number, and not the table of measures, which is under test: from the best to the worst.
  const BEST_FIRST: Readonly<Record<MeasureKey, readonly number[]>> = {
    ncc: [1, 0.9, 0, -1],
    stops: [0, -0.1, 0.5, -2],
    seam: [0.5, 1, 1.8, 5],
    expected: [50, 40, 28, -3],
    clean: [1, 0.98, 0.5, 0],
    shortfall: [0, 1, 3, 30],
    // A ratio: no noise at all is further off than a quarter.
    grain: [1, 0.9, 2, 0.25, 0],
    sharpness: [1, 1.1, 0.5, 4],
    steadiness: [0, 0.05, 1, 3],
    life: [0, 0.1, 0.3, 1],
  }
  test.each(MEASURE_KEYS)(
    'by %s come best first as README says what is better, and worst first the other way',
    (key) => {
      const best = BEST_FIRST[key]
      const mixed = [2, 0, 3, 1, 4].slice(0, best.length)
      const values = mixed.map((i) => best[i])
      expect(sorted(ways(key, values), key).map((i) => values[i])).toEqual(best)
      expect(sorted(ways(key, values), key, true).map((i) => values[i])).toEqual([...best].reverse())
    },
  )

  test.each(MEASURE_KEYS)('by %s: what holds up comes before what does not, inside the best side', (key) => {
    const { holds, works } = LIMITS[key]
    const edge = Number.isFinite(holds[1]) ? holds[1] : holds[0]
    const out = Number.isFinite(works[1]) ? works[1] * 1.01 : works[0] * 0.99
    expect(standing(key, { [key]: edge }, 'hold')).toBe('holds')
    expect(standing(key, { [key]: out }, 'hold')).toBe('fails')
    expect(sorted(ways(key, [out, edge]), key)).toEqual([1, 0])
  })

  test('keep the order of their rank where they are equal, there and back', () => {
    const equal = ways('seam', [1, 0.8, 1, 0.8, 1])
    expect(sorted(equal, 'seam')).toEqual([1, 3, 0, 2, 4])
    expect(sorted(equal, 'seam', true)).toEqual([0, 2, 4, 1, 3])
  })

  test('have the absent last, there and back: no number is neither the best nor the worst', () => {
    const some = ways('life', [null, 0.5, null, 0.1])
    expect(sorted(some, 'life')).toEqual([3, 1, 0, 2])
    expect(sorted(some, 'life', true)).toEqual([1, 3, 0, 2])
  })

  test('by rank are as the search ranked them', () => {
    const key: SortKey = 'rank'
    expect(sorted(ways('ncc', [0.1, 0.9, 0.5]), key)).toEqual([0, 1, 2])
    expect(sorted(ways('ncc', [0.1, 0.9, 0.5]), key, true)).toEqual([2, 1, 0])
  })

  test('one alone and none at all are an order too', () => {
    expect(sorted(ways('shortfall', [1]), 'shortfall')).toEqual([0])
    expect(sorted([], 'shortfall')).toEqual([])
  })
})
