import { describe, expect, test } from 'vitest'
import { lowerBound, upperBound, weightOf } from '../../src/match/conformal.js'
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

  test('a case that weighs nothing tells nothing, and two that weigh half are as many as one', () => {
    const cases = Array.from({ length: 60 }, (_, i) => [i % 40])
    const first = cases.map((_, i) => (i < 40 ? 1 : 0))
    expect(upperBound(cases, 0.9, first)).toBe(upperBound(cases.slice(0, 40), 0.9))
    const twice = [...cases, ...cases]
    expect(
      upperBound(
        twice,
        0.9,
        twice.map(() => 0.5),
      ),
    ).toBe(upperBound(cases, 0.9))
    expect(weightOf([[1], [], [2, 3]], [0.5, 1, 0.25])).toBe(0.75)
  })

  // R. Tibshirani et al., Conformal Prediction Under Covariate Shift (2019), corollary 1: weighed by how much likelier they are
  // where the new case comes from, cases from elsewhere bound it, too. Planted: values grow with x, cases have any x in 0 to 1,
  // the new one mostly large ones (density 3 x squared).
  test('weights make cases from elsewhere hold for where the new one comes from', () => {
    const random = randomFrom('conformal weights')
    const valueAt = (x: number) => x * -Math.log(random())
    let weighed = 0
    let plain = 0
    for (let trial = 0; trial < 1500; trial++) {
      const xs = Array.from({ length: 120 }, () => random())
      const cases = xs.map((x) => [valueAt(x)])
      const fresh = valueAt(Math.max(random(), random(), random()))
      if (fresh <= upperBound(cases, 0.9)) plain++
      if (
        fresh <=
        upperBound(
          cases,
          0.9,
          xs.map((x) => x ** 2),
        )
      )
        weighed++
    }
    // Four standard errors of the share are 0.031.
    expect(weighed / 1500).toBeGreaterThan(0.9 - 0.031)
    expect(plain / 1500).toBeLessThan(0.9 - 0.031)
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
