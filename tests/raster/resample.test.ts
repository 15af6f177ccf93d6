import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { BILINEAR, CUBIC, LANCZOS3, NEAREST, sourceSpan, taps } from '../../src/raster/filters.js'
import { plane } from '../../src/raster/plane.js'
import { resamplePlane, sampleAt } from '../../src/raster/resample.js'
import { apply, invert, shift, type Transform } from '../../src/raster/transform.js'
import { normal, texturedWall } from '../synthetic.js'

const FILTERS = [
  { name: 'nearest', filter: NEAREST },
  { name: 'bilinear', filter: BILINEAR },
  { name: 'cubic', filter: CUBIC },
  { name: 'Lanczos', filter: LANCZOS3 },
] as const

test('Keys gives the cubic the value 9/16 at half a pixel and -1/16 at one and a half', () => {
  // R. Keys, 1981: interpolation half-way is (-1, 9, 9, -1) / 16.
  expect([...taps(0.5, CUBIC).weights]).toEqual([-1 / 16, 9 / 16, 9 / 16, -1 / 16])
})

test('the bilinear filter weighs the two neighbours by their nearness', () => {
  expect(taps(-0.25, BILINEAR)).toEqual({ start: 0, weights: Float64Array.of(0.75, 0.25) })
})

test('the nearest sample is the one that rounding the shift gives, at every half, too', () => {
  for (const dx of [-2.5, -1.51, -0.5, -0.49, 0, 0.49, 0.5, 1.5, 2.51, 0.49999999999999994])
    expect(taps(dx, NEAREST)).toEqual({ start: 0 - Math.round(dx), weights: Float64Array.of(1) })
})

describe.each(FILTERS)('the $name filter', ({ filter }) => {
  test('has taps that add up to 1, and the one tap 1 for a whole shift', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -50, max: 50, noNaN: true }),
        fc.integer({ min: -50, max: 50 }),
        (dx, n) => {
          expect(taps(dx, filter).weights.reduce((a, b) => a + b)).toBeCloseTo(1, 12)
          expect(taps(n, filter)).toEqual({ start: 0 - n, weights: Float64Array.of(1) })
        },
      ),
      { seed: 5, numRuns: 200 },
    )
  })

  test('reads the span that it says it reads', () => {
    for (const dx of [0, 1, -2.5, 3.2, 0.999]) {
      const [first, last] = sourceSpan(20, 5, dx, filter)
      const source = plane(0, 0, 50, 1)
      for (let x = 0; x < 50; x++) source.data[x] = x < first || x > last ? 1e9 : 1
      const out = plane(20, 0, 5, 1)
      resamplePlane(source, shift(dx, 0), out, filter)
      for (const v of out.data) expect(v).toBeCloseTo(1, 5)
    }
  })

  test('moves a white dot as the sign rule says, and changes no sample by a whole-pixel shift', () => {
    const source = plane(2, 3, 12, 10)
    source.data[5 * 12 + 4] = 1
    const out = plane(2, 3, 12, 10)
    resamplePlane(source, shift(3, -2), out, filter)
    const white = [...out.data].flatMap((v, i) => (v !== 0 ? [{ x: i % 12, y: Math.floor(i / 12), v }] : []))
    expect(white).toEqual([{ x: 7, y: 3, v: 1 }])
  })

  test('shows the edge sample wherever a tilted picture ends, its horizon too', () => {
    const source = plane(0, 0, 6, 5)
    source.data.fill(0.37)
    const out = plane(-40, -40, 90, 90)
    // Its horizon lies at x = 20.
    resamplePlane(source, invert([1, 0, 0, 0, 1, 0, -0.05, 0, 1]), out, filter)
    for (const v of out.data) expect(v).toBeCloseTo(0.37, 6)
  })
})

test.each([
  { name: 'bilinear', filter: BILINEAR, error: 0.3 },
  { name: 'cubic', filter: CUBIC, error: 0.06 },
  { name: 'Lanczos', filter: LANCZOS3, error: 0.03 },
])('a wall under a tilted camera is the wall seen from there, $name', ({ filter, error }) => {
  // Planted: the wall is known between its pixels. The tolerance is the filter's own error on 5 px waves.
  const wall = texturedWall(3)
  const source = plane(0, 0, 70, 60)
  for (let i = 0; i < source.data.length; i++) source.data[i] = Math.log2(wall(i % 70, Math.floor(i / 70)))
  const t: Transform = [1.03, 0.04, -2.6, -0.03, 0.98, 1.3, 2e-4, -3e-4, 1]
  const out = plane(10, 8, 44, 38)
  resamplePlane(source, t, out, filter)
  let worst = 0
  for (let y = 0, i = 0; y < 38; y++)
    for (let x = 0; x < 44; x++, i++) {
      const from = apply(invert(t), 10 + x, 8 + y)
      worst = Math.max(worst, Math.abs(out.data[i] - Math.log2(wall(from.x, from.y))))
    }
  expect(worst).toBeLessThan(error)
})

test('a sample is taken at plate pixels, wherever the plane lies', () => {
  const source = plane(-7, 30, 5, 4)
  const grain = normal(8)
  for (let i = 0; i < source.data.length; i++) source.data[i] = grain()
  expect(sampleAt(source, -5, 32, CUBIC)).toBe(source.data[2 * 5 + 2])
  const half = (source.data[11] + source.data[12]) / 2
  expect(sampleAt(source, -5.5, 32, BILINEAR)).toBeCloseTo(half, 7)
})
