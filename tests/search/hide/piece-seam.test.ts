// What two pieces differ by along a border of 160 pixels, ten stretches of 16. By hand: a difference of 3 grains' deviation shows at 3.
import { expect, test } from 'vitest'
import { seamBetween } from '../../../src/search/hide/piece-errors.js'

const [WIDTH, HEIGHT] = [32, 160]
const labels = Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) => (i % WIDTH < 16 ? 0 : 1))
const VARIANCE = 0.25

/** The seam where the pieces differ by so many deviations of grain at each height. */
function seam(times: (y: number) => number): number {
  const left = new Float32Array(labels.length)
  const right = left.map((_, i) => Math.sqrt(VARIANCE) * times(Math.floor(i / WIDTH)))
  return seamBetween(labels, [left, right], WIDTH, VARIANCE)
}

test('a seam that is alike all along shows as much as it is', () => {
  expect(seam(() => 1)).toBeCloseTo(1, 6)
  expect(seam(() => 3)).toBeCloseTo(3, 6)
})

test('one stretch of ten may show more by chance, a fifth of the border does not', () => {
  expect(seam((y) => (y < 16 ? 6 : 1))).toBeCloseTo(1, 6)
  expect(seam((y) => (y < 32 ? 6 : 1))).toBeCloseTo(6, 6)
})

test('where no two pieces meet there is none', () => {
  expect(
    seamBetween(new Uint8Array(WIDTH * HEIGHT), [new Float32Array(labels.length)], WIDTH, VARIANCE),
  ).toBe(0)
})
