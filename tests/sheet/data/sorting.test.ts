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
    ...{ donor: 0, frames: [], start: 0 },
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

  test.each(MEASURE_KEYS)('by %s: what holds up comes before what does not, inside the best side', (key) => {
    const { holds, works } = LIMITS[key]
    const edge = Number.isFinite(holds[1]) ? holds[1] : holds[0]
    const out = Number.isFinite(works[1]) ? works[1] * 1.01 : works[0] * 0.99
    expect(standing(key, edge, 'hold')).toBe('holds')
    expect(standing(key, out, 'hold')).toBe('fails')
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
