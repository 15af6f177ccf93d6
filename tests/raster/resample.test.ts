import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { resample } from '../../src/kernels/resample.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { BILINEAR, CUBIC, LANCZOS3, NEAREST, taps } from '../../src/raster/filters.js'
import { plane } from '../../src/raster/plane.js'
import type { Rect } from '../../src/raster/rect.js'
import { moveMarks, sourceRect, tapsUnder } from '../../src/raster/resample.js'
import { apply, invert, shift, type Transform } from '../../src/raster/transform.js'
import { texturedWall } from '../synthetic.js'

const workspace = new Workspace()
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

  test('moves a white dot as the sign rule says, and changes no sample by a whole-pixel shift', () => {
    const source = plane(2, 3, 12, 10)
    source.data[5 * 12 + 4] = 1
    const out = plane(2, 3, 12, 10)
    resample(workspace, source, shift(3, -2), out, filter)
    const white = [...out.data].flatMap((v, i) => (v !== 0 ? [{ x: i % 12, y: Math.floor(i / 12), v }] : []))
    expect(white).toEqual([{ x: 7, y: 3, v: 1 }])
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
  resample(workspace, source, t, out, filter)
  let worst = 0
  for (let y = 0, i = 0; y < 38; y++)
    for (let x = 0; x < 44; x++, i++) {
      const from = apply(invert(t), 10 + x, 8 + y)
      worst = Math.max(worst, Math.abs(out.data[i] - Math.log2(wall(from.x, from.y))))
    }
  expect(worst).toBeLessThan(error)
})

describe('marks', () => {
  const tilted: Transform = [1.03, 0.04, -2.6, -0.03, 0.98, 1.3, 2e-4, -3e-4, 1]
  const source = { rect: { x: -7, y: 30, w: 9, h: 8 }, data: Uint8Array.from({ length: 72 }, (_, i) => i) }
  const ABSENT = 255

  function moved(t: Transform, rect: Rect): Uint8Array {
    const out = { rect, data: new Uint8Array(rect.w * rect.h).fill(ABSENT) }
    moveMarks(source, t, out)
    return out.data
  }

  test('take the nearest, and stay as they are where that lies beyond the source', () => {
    const rect = { x: -12, y: 24, w: 20, h: 18 }
    for (const t of [shift(2.4, -1.6), shift(-0.5, 0.5), shift(300, 0), tilted]) {
      const found = moved(t, rect)
      for (let y = rect.y, i = 0; y < rect.y + rect.h; y++)
        for (let x = rect.x; x < rect.x + rect.w; x++, i++) {
          const from = apply(invert(t), x, y)
          // Of two that are as near, the one up or left.
          const [u, v] = [Math.ceil(from.x - 0.5) + 7, Math.ceil(from.y - 0.5) - 30]
          const inside = u >= 0 && v >= 0 && u < 9 && v < 8
          expect(found[i]).toBe(inside ? v * 9 + u : ABSENT)
        }
    }
  })

  test('may lie where the source shows nothing at all', () => {
    expect(moved(shift(0.3, 0), { x: 100, y: 0, w: 3, h: 2 })).toEqual(new Uint8Array(6).fill(ABSENT))
  })
})

test('the part of a source that is said to be read holds all that is read', () => {
  const out = { x: 20, y: 10, w: 15, h: 12 }
  for (const t of [
    shift(2.4, -1.6),
    shift(-7, 3),
    [1.05, -0.2, 2.3, 0.18, 0.95, -1.7, 1e-3, -2e-3, 1] as const,
    [0.55, -0.1, 2.3, 0.1, 0.45, -1.7, 1e-3, -2e-3, 1] as const,
  ]) {
    const { x, y, w, h } = sourceRect(out, t, LANCZOS3.radius)
    const source = plane(-30, -40, 120, 110)
    for (let v = 0, i = 0; v < source.height; v++)
      for (let u = 0; u < source.width; u++, i++) {
        const [px, py] = [u + source.x, v + source.y]
        source.data[i] = px >= x && py >= y && px < x + w && py < y + h ? 1 : 1e9
      }
    const moved = plane(out.x, out.y, out.w, out.h)
    resample(workspace, source, t, moved, LANCZOS3)
    for (const v of moved.data) expect(v).toBeCloseTo(1, 5)
  }
})

test('a shift has one set of taps for all pixels, any other transform one for each', () => {
  const same = tapsUnder(shift(0.25, -3), BILINEAR)
  expect(same(4, 5)).toBe(same(90, 2))
  expect(same(4, 5)).toEqual({ across: taps(0.25, BILINEAR), down: taps(-3, BILINEAR) })
  const wider = tapsUnder([2, 0, 0, 0, 1, 0, 0, 0, 1], BILINEAR)
  // Pixel 7 shows the place 3.5: its neighbours lie 4 and 3 to the left.
  expect(wider(7, 5).across).toEqual({ start: -4, weights: Float64Array.of(0.5, 0.5) })
})
