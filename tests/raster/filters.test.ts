// What a filter leaves of noise, against the taps themselves.
import { expect, test } from 'vitest'
import { BILINEAR, CUBIC, LANCZOS3, NEAREST, shiftPower, taps } from '../../src/raster/filters.js'
import { randomFrom } from '../random.js'

// White noise of variance 1 under weights has the sum of their squares (law).
test('the variance that a shift leaves of white noise is the sum of its taps squared, across times down', () => {
  const random = randomFrom('shift power')
  const shifts = [0, 1, -3, 0.5, -0.5, 2.25, ...Array.from({ length: 40 }, () => 20 * (random() - 0.5))]
  const squares = (shift: number, filter: typeof CUBIC) =>
    taps(shift, filter).weights.reduce((sum, w) => sum + w * w, 0)
  for (const filter of [NEAREST, BILINEAR, CUBIC, LANCZOS3])
    for (const [k, dx] of shifts.entries()) {
      const dy = shifts[(7 * k + 3) % shifts.length]
      expect(shiftPower(dx, dy, filter)).toBe(squares(dx, filter) * squares(dy, filter))
    }
  expect(shiftPower(4, -7, CUBIC)).toBe(1)
  expect(shiftPower(0.5, 0, BILINEAR)).toBeCloseTo(0.5, 12)
})
