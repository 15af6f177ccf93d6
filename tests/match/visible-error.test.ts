import { describe, expect, test } from 'vitest'
import { decibelsOf, displaySlope } from '../../src/match/visible-error.js'

describe('what a stop is worth on a display', () => {
  // IEC 61966-2-1: code = 1.055 L^(1/2.4) - 0.055, so d code / d log2 L = ln 2 / 2.4 * 1.055 L^(1/2.4), above the linear part.
  test.each([0.01, 0.18, 0.5, 0.9])('at linear light %f is the slope of its encoding', (light) => {
    const slope = ((Math.LN2 / 2.4) * 1.055 * light ** (1 / 2.4)) as number
    expect(displaySlope(Math.log2(light))).toBeCloseTo(slope, 4)
  })

  // In the linear part: code = 12.92 L, so d code / d log2 L = ln 2 * 12.92 L.
  test('in the deepest shadows is all but nothing', () => {
    expect(displaySlope(Math.log2(0.001))).toBeCloseTo(Math.LN2 * 12.92 * 0.001, 5)
  })

  test('above white is what it is at white', () => {
    expect(displaySlope(3)).toBe(displaySlope(0))
  })
})

// Peak 1: a mean square error of 1e-4 is a hundredth of the range, 40 dB.
test('decibels are told of a peak of 1, and nothing is better than 99', () => {
  expect(decibelsOf(1e-4)).toBeCloseTo(40, 9)
  expect(decibelsOf(0)).toBe(99)
})
