// Pictures in half floats brought down. Truth: the straight mean in doubles of what is finite, and exact cases of IEEE 754 binary16.
import { expect, test } from 'vitest'
import { halfMeans } from '../../src/kernels/half-means.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { HALF_NAN, HALF_VALUES } from '../../src/raster/half.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

/** Mean of each square and channel; null where nothing of it is finite. */
function reference(halves: Uint16Array, width: number, height: number, factor: number): (number | null)[] {
  const means: (number | null)[] = []
  for (let y = 0; y + factor <= height; y += factor)
    for (let x = 0; x + factor <= width; x += factor)
      for (let c = 0; c < 3; c++) {
        const light: number[] = []
        for (let v = y; v < y + factor; v++)
          for (let u = x; u < x + factor; u++) light.push(HALF_VALUES[halves[3 * (v * width + u) + c]!]!)
        const finite = light.filter(Number.isFinite)
        means.push(finite.length > 0 ? finite.reduce((sum, each) => sum + each, 0) / finite.length : null)
      }
  return means
}

test.each([
  [4, 64, 8],
  [2, 7, 5],
  [3, 11, 10],
  [1, 5, 3],
  [5, 23, 12],
])('means over squares of %s are those of doubles, whatever the size: %s x %s', (factor, width, height) => {
  const random = randomFrom(`half means ${factor}`)
  // All patterns there are: signs, subnormals, infinities and NaN among them; and pictures of light.
  for (const pattern of [() => Math.floor(65536 * random()), () => 0x2c00 + Math.floor(0x1400 * random())]) {
    const halves = Uint16Array.from({ length: 3 * width * height }, pattern)
    const before = halves.slice()
    const truth = reference(halves, width, height, factor)
    const out = new Uint16Array(truth.length)
    halfMeans(workspace, halves, width, factor, out)
    expect(halves).toEqual(before)
    const largest = Math.max(...Array.from(halves, (h) => HALF_VALUES[h]!).filter(Number.isFinite).map(Math.abs)) // biome-ignore format: one number
    for (const [i, mean] of truth.entries()) {
      if (mean === null) expect(out[i]).toBe(HALF_NAN)
      // Half a step of a half, and what sums of floats round where large values cancel.
      else
        expect(Math.abs(HALF_VALUES[out[i]!]! - mean)).toBeLessThanOrEqual(
          Math.abs(mean) * 2 ** -11 + 2 ** -25 + largest * 2 ** -22 * factor,
        )
    }
  }
})

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
