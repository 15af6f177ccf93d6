// Pictures in half floats as light, brought down. Truth: the straight mean in doubles, and exact cases of IEEE 754 binary16.
import { expect, test } from 'vitest'
import { halfLight, halfValues } from '../../src/kernels/half-light.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { HALF_NAN } from '../../src/raster/half.js'
import { halfPictures, ofHalf, SQUARE_SIZES, squaresOf, sum } from './squares.js'

const workspace = new Workspace()

/** Of one half: NaN is black, and infinity lies one step above the largest. */
function lightOf(half: number): number {
  const value = ofHalf(half)
  return Number.isNaN(value) ? 0 : Number.isFinite(value) ? value : Math.sign(value) * 65536
}

test.each(SQUARE_SIZES)(
  'means over squares of %s are those of doubles, whatever the size: %s x %s',
  (factor, width, height) => {
    for (const halves of halfPictures(`half light ${factor}`, width, height)) {
      const before = halves.slice()
      const squares = squaresOf(halves, width, height, factor).map((square) => square.map(lightOf))
      const out = new Float32Array(squares.length)
      halfLight(workspace, halves, width, factor, out)
      expect(halves).toEqual(before)
      // A float32 is good to 2 ** -24; a sum of n rounds n times at most.
      for (const [i, square] of squares.entries()) {
        const n = factor ** 2
        expect(Math.abs(out[i] - sum(square) / n)).toBeLessThanOrEqual(
          ((n + 1) * 2 ** -24 * sum(square.map(Math.abs))) / n,
        )
      }
    }
  },
)

test.each([
  [65536, 65536, 1],
  [37, 30, 11],
  [5, 5, 9],
  [300_000, 299_999, 3],
])(
  'rows of %s halves, of which %s are wanted, %s rows, have the values of IEEE 754 binary16, to the last bit',
  (pitch, count, rows) => {
    // All patterns there are, in turn.
    const halves = Uint16Array.from({ length: pitch * rows }, (_, i) => i)
    const out = new Float32Array(count * rows)
    halfValues(workspace, halves, pitch, count, out)
    const truth = new Float32Array(count * rows)
    for (let row = 0, i = 0; row < rows; row++)
      for (let k = 0; k < count; k++, i++) truth[i] = ofHalf(halves[row * pitch + k])
    // Which bits a NaN has is no matter.
    expect(out.findIndex((value, i) => !Object.is(value, truth[i]))).toBe(-1)
  },
)

test('what is no number is black, also beside what is light, and infinity is bright', () => {
  const [one, three, infinite] = [0x3c00, 0x4200, 0x7c00]
  // Two pixels of 2 x 1 squares: red, green, blue each.
  const halves = Uint16Array.of(
    ...[one, HALF_NAN, infinite, three, 0xfe00, 0],
    ...[one, HALF_NAN, infinite, HALF_NAN, one, 0xfc00],
  )
  const out = new Float32Array(3)
  halfLight(workspace, halves, 2, 2, out)
  expect([...out]).toEqual([1.25, 0.25, 16384])
})
