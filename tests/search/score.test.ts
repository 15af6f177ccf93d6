import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { CANDIDATE_KINDS } from '../../src/search/kinds.js'
import { LIMITS, MEASURE_KEYS, type Measures, measureOf, recordOf } from '../../src/search/measures.js'
import { byRank, judge, scoreOf } from '../../src/search/score.js'
import { FAULTLESS, worse } from './faultless.js'

/** Anything that a measure can be, and nothing. */
const measures: fc.Arbitrary<Measures> = fc.record(
  recordOf(MEASURE_KEYS, (key) => {
    const [low, high] = measureOf(key).bounds
    const [min, max] = [Math.max(low, -1e6), Math.min(high, 1e6)]
    return fc.option(fc.double({ min, max, noNaN: true }), { nil: null, freq: 6 })
  }),
)
const kinds = fc.constantFrom(...CANDIDATE_KINDS)

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

  test.each(MEASURE_KEYS)('never rises when %s gets worse', (key) => {
    fc.assert(
      fc.property(measures, kinds, fc.double({ min: 0, max: 3, noNaN: true }), (m, kind, by) => {
        const value = m[key]
        if (value === null) return
        const off = worse(key, value, by)
        if (off < measureOf(key).bounds[0]) return
        expect(scoreOf({ ...m, [key]: off }, kind)).toBeLessThanOrEqual(scoreOf(m, kind))
      }),
      { seed: 15, numRuns: 200 },
    )
  })

  test('of a dirty donor is below that of an otherwise equal clean one', () => {
    expect(scoreOf({ ...FAULTLESS, clean: 0.9 }, 'hold')).toBeLessThan(scoreOf(FAULTLESS, 'hold'))
  })

  test('counts moving foliage against what shows the same donors on every frame, and against nothing else', () => {
    const lively = { ...FAULTLESS, life: 4 }
    for (const still of ['hold', 'stack', 'mosaic'] as const) {
      expect(scoreOf(lively, still)).toBeLessThan(scoreOf(FAULTLESS, still))
      expect(judge(lively, still)).toMatchObject({
        verdict: 'will not hold',
        why: expect.stringContaining('freeze'),
      })
    }
    for (const moving of ['run', 'mirror', 'relay'] as const) {
      expect(scoreOf(lively, moving)).toBe(scoreOf(FAULTLESS, moving))
      expect(judge(lively, moving).why).not.toContain('freeze')
    }
  })

  test('counts nothing that moves beside a region that one frame shows to within 40 dB at worst on all of a range', () => {
    const lively = { ...FAULTLESS, life: 0.6, expected: 43 }
    for (const still of ['hold', 'stack', 'mosaic'] as const) {
      expect(judge(lively, still, { interval: [40, 47] }).verdict).toBe('holds up')
      for (const interval of [[39.9, 47] as const, null])
        expect(judge(lively, still, { interval: interval && [...interval] })).toMatchObject({
          verdict: 'needs work',
          why: 'it would freeze the movement round the region',
        })
    }
  })

  test('of what could not be measured is no better than the worst that is acceptable', () => {
    for (const key of ['shortfall', 'seam', 'clean', 'ncc'] as const) {
      const acceptable = LIMITS[key].works[key === 'clean' || key === 'ncc' ? 0 : 1]
      expect(scoreOf({ ...FAULTLESS, [key]: null }, 'run')).toBeLessThanOrEqual(
        scoreOf({ ...FAULTLESS, [key]: acceptable }, 'run'),
      )
    }
  })
})

describe('the verdict', () => {
  test('on a donor without a fault is that it holds up, with what was found', () => {
    expect(judge(FAULTLESS, 'run')).toMatchObject({ verdict: 'holds up' })
    expect(judge(FAULTLESS, 'run').why).toContain('empty')
  })

  test.each(MEASURE_KEYS)('changes at the documented limits of %s and names it', (key) => {
    const { holds, works } = LIMITS[key]
    for (const side of [0, 1] as const) {
      if (!Number.isFinite(holds[side]) || works[side] === holds[side]) continue
      const out = (works[side] - holds[side]) * 0.01
      const at = (value: number) => judge({ ...FAULTLESS, [key]: value }, 'hold')
      expect(at(holds[side]).verdict).toBe('holds up')
      expect(at(holds[side] + out).verdict).toBe('needs work')
      expect(at(works[side] + out).verdict).toBe('will not hold')
      expect(at(works[side] + out).why).not.toBe(judge(FAULTLESS, 'hold').why)
    }
  })

  test('needs a look where one chance in twenty is that nothing could be made of what is likely good', () => {
    const { holds, works } = LIMITS.expected
    const likely = { ...FAULTLESS, expected: 57 }
    expect(judge({ ...likely, expected: 40 }, 'stack', { interval: [works[0], 60] }).verdict).toBe('holds up')
    const unsure = judge(likely, 'stack', { interval: [15, 60] })
    expect(unsure).toMatchObject({ verdict: 'needs work', why: expect.stringContaining('as far as 15 dB') })
    const poor = judge({ ...FAULTLESS, expected: holds[0] - 1 }, 'stack', { interval: [15, 60] })
    expect(poor.why, 'what is likely is said alone').not.toContain('as far as')
  })

  test('needs a look where the truth may lie twenty decibels further off than is expected, of what an eye can tell', () => {
    const likely = { ...FAULTLESS, expected: 57 }
    expect(judge(likely, 'stack', { interval: [26, 60] }).verdict).toBe('holds up')
    expect(judge(likely, 'stack', { interval: [25, 60] })).toMatchObject({
      verdict: 'needs work',
      why: expect.stringContaining('as far as 25 dB'),
    })
    expect(judge({ ...likely, expected: 42 }, 'stack', { interval: [25, 60] }).verdict).toBe('holds up')
  })

  test('is told in decibels only where they say something, never below none', () => {
    for (const far of [9, 0, -8]) {
      expect(judge({ ...FAULTLESS, expected: 57 }, 'stack', { interval: [far, 60] })).toMatchObject({
        verdict: 'needs work',
        why: 'it may show something else altogether: this plate tells no better',
      })
      expect(judge({ ...FAULTLESS, expected: far }, 'stack')).toMatchObject({
        verdict: 'will not hold',
        why: 'it is likely to show something else altogether',
      })
    }
  })

  test('puts the worst fault first', () => {
    const { why } = judge({ ...FAULTLESS, clean: 0.2, seam: 2 }, 'hold')
    expect(why.indexOf('not empty')).toBeLessThan(why.indexOf('seam'))
    expect(why.indexOf('not empty')).toBeGreaterThan(-1)
  })

  test('of a step in the light is that it needs work, and says so in the words that it is given', () => {
    const seen = { step: 'a step in the light along the left edge' }
    expect(judge(FAULTLESS, 'run', { seen })).toEqual({ verdict: 'needs work', why: seen.step })
  })

  test('names a fault in the words that it is given, once', () => {
    const words = 'detail differs along the left edge'
    const faulty = { ...FAULTLESS, seam: 3, ncc: 0.6 }
    expect(judge(faulty, 'run', { seen: { seam: words, ncc: words } }).why).toBe(words)
    expect(judge(faulty, 'run').why).toContain('seam')
  })

  // Common practice, no source: a patch gets the plate's noise back.
  test('on a donor without any grain is that it holds up: a patch gets back what it lacks', () => {
    expect(judge({ ...FAULTLESS, grain: 0 }, 'hold').verdict).toBe('holds up')
    expect(judge({ ...FAULTLESS, grain: 3 }, 'hold').why).toContain('grainier')
  })

  test('without a correlation never is that it holds up, and gives the reason', () => {
    const { verdict, why } = judge({ ...FAULTLESS, ncc: null }, 'hold', {
      noCorrelation: 'the surround is too flat',
    })
    expect(verdict).not.toBe('holds up')
    expect(why).toContain('too flat')
  })
})

test('what holds up as it is comes before what needs work, and that before what will not hold, whatever they score', () => {
  const [b, c, d, a] = [
    { verdict: 'holds up', score: 50 },
    { verdict: 'needs work', score: 90 },
    { verdict: 'will not hold', score: 95 },
    { verdict: 'holds up', score: 60 },
  ] as const
  expect([d, c, b, a].sort(byRank)).toEqual([a, b, c, d])
})
