import { describe, expect, test } from 'vitest'
import { lowerBound, upperBound } from '../../src/match/conformal.js'
import { randomFrom } from '../random.js'

describe('a bound from cases whose truth is known', () => {
  // V. Vovk, A. Gammerman, G. Shafer, Algorithmic Learning in a Random World (2005), proposition 2.3: of exchangeable values
  // the new one lies within the ceil(confidence * (n + 1))-th smallest of n with at least that confidence.
  test('of 99 values at 95 per cent is the 95th smallest', () => {
    const cases = Array.from({ length: 99 }, (_, i) => [(i * 37) % 99])
    expect(upperBound(cases, 0.95)).toBe(94)
    expect(lowerBound(cases, 0.95)).toBe(4)
  })

  test('is not given where there are too few cases to be so confident', () => {
    const cases = (n: number) => Array.from({ length: n }, (_, i) => [i])
    expect(upperBound(cases(18), 0.95)).toBe(Number.POSITIVE_INFINITY)
    expect(upperBound(cases(19), 0.95)).toBe(18)
    expect(lowerBound([], 0.95)).toBe(Number.NEGATIVE_INFINITY)
  })

  test('a case with many values weighs as much as one with a single one', () => {
    const many = Array.from({ length: 1000 }, () => 5)
    const cases = [many, ...Array.from({ length: 38 }, () => [1])]
    expect(upperBound(cases, 0.9)).toBe(1)
  })

  // The law itself, over 2,000 draws of skewed values: 0.9 within four standard errors of the share (0.0067 each).
  test('holds for as many new cases as it promises, whatever the values are distributed like', () => {
    const random = randomFrom('conformal')
    const skewed = () => (-Math.log(random())) ** 3
    let held = 0
    for (let trial = 0; trial < 2000; trial++) {
      const cases = Array.from({ length: 39 }, () => [skewed()])
      if (skewed() <= upperBound(cases, 0.9)) held++
    }
    expect(held / 2000).toBeGreaterThan(0.9 - 0.027)
    expect(held / 2000).toBeLessThan(0.9 + 0.027)
  })
})
