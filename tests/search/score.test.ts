import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { judge, LIMITS, type Measures, scoreOf } from '../../src/search/score.js'

/** A candidate without a fault. */
const VALID: Measures = {
  ncc: 0.995,
  stops: 0,
  seam: 1,
  inside: 1,
  clean: 1,
  grain: 1,
  sharpness: 1,
  steadiness: 0.02,
  life: 0,
}
const KEYS = Object.keys(VALID) as (keyof Measures)[]

/** Away from the ideal, on the side that is worse. */
const WORSE: Record<keyof Measures, (v: number, by: number) => number> = {
  ncc: (v, by) => v - by,
  stops: (v, by) => v + Math.sign(v || 1) * by,
  seam: (v, by) => v + by,
  inside: (v, by) => v + by,
  clean: (v, by) => v - by,
  grain: (v, by) => (v >= 1 ? v + by : v / (1 + by)),
  sharpness: (v, by) => (v >= 1 ? v + by : v / (1 + by)),
  steadiness: (v, by) => v + by,
  life: (v, by) => v + by,
}

const some = (min: number, max: number) =>
  fc.option(fc.double({ min, max, noNaN: true }), { nil: null, freq: 6 })
const measures: fc.Arbitrary<Measures> = fc.record({
  ncc: some(-1, 1),
  stops: some(-12, 12),
  seam: some(0, 1e6),
  inside: some(0, 1e6),
  clean: some(0, 1),
  grain: some(0, 1e6),
  sharpness: some(0, 1e6),
  steadiness: some(0, 1e3),
  life: some(0, 1e6),
})
const kinds = fc.constantFrom('hold', 'run', 'mirror', 'relay', 'stack' as const) as fc.Arbitrary<
  'hold' | 'run' | 'mirror' | 'relay' | 'stack'
>

describe('the score', () => {
  test('is a finite number from 0 to 100 whatever was measured or could not be', () => {
    fc.assert(
      fc.property(measures, kinds, (m, kind) => {
        const score = scoreOf(m, kind)
        expect(score >= 0 && score <= 100).toBe(true)
        const { verdict, why } = judge(m, kind, {
          noCorrelation: m.ncc === null ? 'too flat to correlate' : null,
        })
        expect(['holds up', 'needs work', 'will not hold']).toContain(verdict)
        expect(why).not.toMatch(/NaN|Infinity|undefined|null/)
        expect(why).not.toBe('')
      }),
      { seed: 14, numRuns: 500 },
    )
  })

  test.each(KEYS)('never rises when %s gets worse', (key) => {
    fc.assert(
      fc.property(measures, kinds, fc.double({ min: 0, max: 3, noNaN: true }), (m, kind, by) => {
        const value = m[key]
        if (value === null) return
        const worse = WORSE[key](value, by)
        if (key === 'clean' && worse < 0) return
        expect(scoreOf({ ...m, [key]: worse }, kind)).toBeLessThanOrEqual(scoreOf(m, kind))
      }),
      { seed: 15, numRuns: 200 },
    )
  })

  test('of a dirty donor is below that of an otherwise equal clean one', () => {
    expect(scoreOf({ ...VALID, clean: 0.9 }, 'hold')).toBeLessThan(scoreOf(VALID, 'hold'))
  })

  test('counts moving foliage against a hold, and against nothing else', () => {
    const lively = { ...VALID, life: 4 }
    expect(scoreOf(lively, 'hold')).toBeLessThan(scoreOf(VALID, 'hold'))
    expect(scoreOf(lively, 'run')).toBe(scoreOf(VALID, 'run'))
    expect(judge(lively, 'hold').why).toContain('freeze')
    expect(judge(lively, 'run').why).not.toContain('freeze')
  })

  test('of what could not be measured is no better than the worst that is acceptable', () => {
    for (const key of ['inside', 'seam', 'clean', 'ncc'] as const) {
      const acceptable = LIMITS[key].works[key === 'clean' || key === 'ncc' ? 0 : 1]
      expect(scoreOf({ ...VALID, [key]: null }, 'run')).toBeLessThanOrEqual(
        scoreOf({ ...VALID, [key]: acceptable }, 'run'),
      )
    }
  })
})

describe('the verdict', () => {
  test('on a donor without a fault is that it holds up, with what was found', () => {
    expect(judge(VALID, 'run')).toMatchObject({ verdict: 'holds up' })
    expect(judge(VALID, 'run').why).toContain('empty')
  })

  test.each(KEYS)('changes at the documented limits of %s and names it', (key) => {
    const { holds, works } = LIMITS[key]
    for (const side of [0, 1] as const) {
      if (!Number.isFinite(holds[side]) || works[side] === holds[side]) continue
      const out = (works[side] - holds[side]) * 0.01
      const at = (value: number) => judge({ ...VALID, [key]: value }, 'hold')
      expect(at(holds[side]).verdict).toBe('holds up')
      expect(at(holds[side] + out).verdict).toBe('needs work')
      expect(at(works[side] + out).verdict).toBe('will not hold')
      expect(at(works[side] + out).why).not.toBe(judge(VALID, 'hold').why)
    }
  })

  test('puts the worst fault first', () => {
    const { why } = judge({ ...VALID, clean: 0.2, seam: 2 }, 'hold')
    expect(why.indexOf('not empty')).toBeLessThan(why.indexOf('seam'))
    expect(why.indexOf('not empty')).toBeGreaterThan(-1)
  })

  test('without a correlation never is that it holds up, and gives the reason', () => {
    const { verdict, why } = judge({ ...VALID, ncc: null }, 'hold', {
      noCorrelation: 'the surround is too flat',
    })
    expect(verdict).not.toBe('holds up')
    expect(why).toContain('too flat')
  })
})
