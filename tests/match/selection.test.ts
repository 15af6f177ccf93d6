import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { medianAndSigma, middleMean, select } from '../../src/match/selection.js'

const samples = fc.array(fc.float({ noNaN: true, min: -9, max: 9 }), { minLength: 1, maxLength: 60 })

describe('medians without sorting', () => {
  test('the k-th sample is the one that sorting puts there, with smaller ones before it', () => {
    fc.assert(
      fc.property(samples, fc.nat(), (values, any) => {
        const k = any % values.length
        const mixed = Float32Array.from(values)
        expect(select(mixed, k)).toBe(Float32Array.from(values).sort()[k])
        for (let i = 0; i < k; i++) expect(mixed[i]).toBeLessThanOrEqual(mixed[k])
        for (let i = k; i < mixed.length; i++) expect(mixed[i]).toBeGreaterThanOrEqual(mixed[k])
        expect([...mixed].sort()).toEqual([...Float32Array.from(values)].sort())
      }),
      { seed: 5, numRuns: 400 },
    )
  })

  test('only the given length is looked at', () => {
    expect(select(Float32Array.of(3, 1, 2, -50), 1, 3)).toBe(2)
    expect(middleMean(Float32Array.of(1, 1, 5, 5, 900), 4)).toBe(3)
  })

  test('the middle half leaves the outer quarters out', () => {
    fc.assert(
      fc.property(samples, (values) => {
        const sorted = Float32Array.from(values).sort()
        const from = sorted.length >> 2
        const middle = sorted.subarray(from, Math.max(from + 1, sorted.length - from))
        const mean = middle.reduce((a, b) => a + b, 0) / middle.length
        expect(middleMean(Float32Array.from(values))).toBeCloseTo(mean, 4)
      }),
      { seed: 6, numRuns: 300 },
    )
  })

  // P. J. Huber, Robust Statistics: 1.4826 times the median absolute deviation is sigma of a normal distribution.
  test('median and sigma of one to nine are 5 and 2 * 1.4826', () => {
    const { median, sigma } = medianAndSigma(Float32Array.of(9, 2, 7, 4, 5, 6, 3, 8, 1))
    expect(median).toBe(5)
    expect(sigma).toBeCloseTo(2.9652, 6)
  })
})
