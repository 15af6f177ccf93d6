// Pictures in half floats brought down. Truth: the straight mean in doubles of what is finite, and exact cases of IEEE 754 binary16.
import { expect, test } from 'vitest'
import { halfMeans } from '../../src/kernels/half-means.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { HALF_NAN } from '../../src/raster/half.js'
import { halfPictures, ofHalf, SQUARE_SIZES, squaresOf, sum } from './squares.js'

const workspace = new Workspace()

test.each(SQUARE_SIZES)(
  'means over squares of %s are those of doubles, whatever the size: %s x %s',
  (factor, width, height) => {
    for (const halves of halfPictures(`half means ${factor}`, width, height)) {
      const before = halves.slice()
      const squares = squaresOf(halves, width, height, factor).map((square) => square.map(ofHalf))
      const out = new Uint16Array(squares.length)
      halfMeans(workspace, halves, width, factor, out)
      expect(halves).toEqual(before)
      const largest = Math.max(...squares.flat().filter(Number.isFinite).map(Math.abs))
      for (const [i, square] of squares.entries()) {
        const finite = square.filter(Number.isFinite)
        if (finite.length === 0) {
          expect(out[i]).toBe(HALF_NAN)
          continue
        }
        const mean = sum(finite) / finite.length
        // Half a step of a half, and what sums of floats round where large values cancel.
        expect(Math.abs(ofHalf(out[i]) - mean)).toBeLessThanOrEqual(
          Math.abs(mean) * 2 ** -11 + 2 ** -25 + largest * 2 ** -22 * factor,
        )
      }
    }
  },
)

test('what is not finite is left out, and a square of nothing else is no number', () => {
  const [one, three, infinite, half] = [0x3c00, 0x4200, 0x7c00, 0x3800]
  // Two squares of 2 x 2: red, green, blue each.
  const halves = Uint16Array.of(
    ...[one, HALF_NAN, 1, one, infinite, 1, half, HALF_NAN, 0, half, HALF_NAN, 0],
    ...[three, 0xfe00, 1, three, HALF_NAN, 1, HALF_NAN, HALF_NAN, 0x8000, half, infinite, 0],
  )
  const out = new Uint16Array(6)
  halfMeans(workspace, halves, 4, 2, out)
  // The smallest subnormal four times is itself.
  expect([...out]).toEqual([0x4000, HALF_NAN, 1, half, HALF_NAN, 0])
})
