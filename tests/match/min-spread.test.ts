import { expect, test } from 'vitest'
import { EYE_LIMIT_STOPS, minSpread } from '../../src/match/min-spread.js'

test('eight bits of sRGB round by more than an eye sees in the shadows, ten bits hardly do', () => {
  // Code 20 of 255: IEC 61966-2-1's linear part ends at 0.04045, so the curve is ((c + 0.055) / 1.055) ** 2.4.
  const light = (code: number) => ((code / 255 + 0.055) / 1.055) ** 2.4
  const step = Math.log2(light(21) / light(20))
  expect(minSpread(Math.log2(light(20)), '8-bit', 'srgb')).toBeCloseTo(step / Math.sqrt(12), 6)
  expect(step / Math.sqrt(12)).toBeGreaterThan(3 * EYE_LIMIT_STOPS)
  expect(minSpread(Math.log2(0.18), '10-bit', 'srgb')).toBe(EYE_LIMIT_STOPS)
})

test.each(['16-bit', 'half', 'float'])('%s plates are limited by the eye alone', (depth) => {
  for (const level of [-9, -2.47, 0]) expect(minSpread(level, depth, 'srgb')).toBe(EYE_LIMIT_STOPS)
})

test('black and beyond white have a least spread, too', () => {
  for (const level of [-40, 5, Number.NEGATIVE_INFINITY]) {
    const least = minSpread(level, '8-bit', 'srgb')
    expect(least).toBeGreaterThanOrEqual(EYE_LIMIT_STOPS)
    expect(least).toBeLessThan(1)
  }
})
