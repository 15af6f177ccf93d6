import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { resample, resampleRgb } from '../../src/kernels/resample.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { BILINEAR, CUBIC, LANCZOS3, NEAREST } from '../../src/raster/filters.js'
import { plane } from '../../src/raster/plane.js'
import { shift, type Transform } from '../../src/raster/transform.js'
import { normal, texturedWall, wallPlane } from '../synthetic.js'
import { shiftedSample } from './resample.reference.js'
import { warpedSample } from './warp.reference.js'

const workspace = new Workspace()

const KERNELS = [
  { name: 'nearest', kernel: NEAREST, error: 0.9 },
  { name: 'bilinear', kernel: BILINEAR, error: 0.3 },
  { name: 'cubic', kernel: CUBIC, error: 0.06 },
  { name: 'Lanczos', kernel: LANCZOS3, error: 0.02 },
] as const

describe('the sign rule', () => {
  test('a white dot moved by (3, -2) lies three pixels further right and two further up', () => {
    const source = plane(0, 0, 12, 10)
    source.data[5 * 12 + 4] = 1
    const out = plane(0, 0, 12, 10)
    resample(workspace, source, shift(3, -2), out)
    const white = [...out.data].flatMap((v, i) => (v !== 0 ? [{ x: i % 12, y: Math.floor(i / 12), v }] : []))
    expect(white).toEqual([{ x: 7, y: 3, v: 1 }])
  })

  test('target(x, y) is donor(x - dx, y - dy), whatever rectangle of the plate either covers', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -6, max: 6 }),
        fc.integer({ min: -6, max: 6 }),
        fc.integer({ min: -9, max: 40 }),
        fc.integer({ min: -9, max: 40 }),
        (dx, dy, x, y) => {
          const source = plane(-11, 7, 30, 20)
          for (let i = 0; i < source.data.length; i++) source.data[i] = i
          const out = plane(x, y, 3, 2)
          resample(workspace, source, shift(dx, dy), out)
          const sx = x + 1 - dx + 11
          const sy = y + 1 - dy - 7
          if (sx < 0 || sx >= 30 || sy < 0 || sy >= 20) return
          expect(out.data[1 * 3 + 1]).toBe(sy * 30 + sx)
        },
      ),
      { seed: 1, numRuns: 200 },
    )
  })
})

describe.each(KERNELS)('a picture moved with the $name filter', ({ kernel, error }) => {
  test('equals the double-precision sum at random sizes, places and offsets, 1 px pictures included', () => {
    fc.assert(
      fc.property(
        fc.record({
          sw: fc.integer({ min: 1, max: 14 }),
          sh: fc.integer({ min: 1, max: 11 }),
          // Wide enough for several vectors at a time, and what is left over.
          ow: fc.integer({ min: 1, max: 39 }),
          oh: fc.integer({ min: 1, max: 12 }),
          ox: fc.integer({ min: -9, max: 9 }),
          oy: fc.integer({ min: -9, max: 9 }),
          dx: fc.double({ min: -7, max: 7, noNaN: true }),
          dy: fc.double({ min: -7, max: 7, noNaN: true }),
          start: fc.integer({ min: 0, max: 1e6 }),
        }),
        ({ sw, sh, ow, oh, ox, oy, dx, dy, start }) => {
          const source = plane(2, -3, sw, sh)
          const grain = normal(start)
          for (let i = 0; i < source.data.length; i++) source.data[i] = grain()
          const before = source.data.slice()
          const out = plane(ox, oy, ow, oh)
          resample(workspace, source, shift(dx, dy), out, kernel)
          expect(source.data).toEqual(before)
          for (let y = 0, i = 0; y < oh; y++) {
            for (let x = 0; x < ow; x++, i++) {
              const wanted = shiftedSample(source, dx, dy, ox + x, oy + y, kernel)
              expect(Math.abs(out.data[i] - wanted)).toBeLessThan(1e-5)
            }
          }
        },
      ),
      { seed: 2, numRuns: 150 },
    )
  })

  test('a flat picture stays flat at any offset', () => {
    const source = plane(0, 0, 9, 9)
    source.data.fill(0.37)
    for (const [dx, dy] of [
      [0.5, 0.5],
      [1.25, -0.75],
      [-0.001, 30],
    ]) {
      const out = plane(0, 0, 9, 9)
      resample(workspace, source, shift(dx, dy), out, kernel)
      for (const v of out.data) expect(v).toBeCloseTo(0.37, 6)
    }
  })

  test('a whole-pixel offset changes no sample', () => {
    const source = wallPlane(texturedWall(), { x: 0, y: 0, w: 20, h: 16 })
    const out = plane(4, 4, 10, 8)
    resample(workspace, source, shift(2, -3), out, kernel)
    for (let y = 0; y < 8; y++) {
      for (let x = 0; x < 10; x++) expect(out.data[y * 10 + x]).toBe(source.data[(y + 7) * 20 + x + 2])
    }
  })

  test('a wall moved by a fraction of a pixel is the wall seen from there', () => {
    // Planted: the wall is known between its pixels. The tolerance is the filter's own error on 5 px waves.
    const rect = { x: 0, y: 0, w: 60, h: 50 }
    const wall = texturedWall(3)
    const source = wallPlane(wall, rect)
    const seen = wallPlane(wall, rect, { dx: 0.4, dy: -0.7 })
    const out = plane(6, 6, 48, 38)
    resample(workspace, source, shift(0.4, -0.7), out, kernel)
    let worst = 0
    for (let y = 0; y < 38; y++)
      for (let x = 0; x < 48; x++)
        worst = Math.max(worst, Math.abs(out.data[y * 48 + x] - seen.data[(y + 6) * 60 + x + 6]))
    expect(worst).toBeLessThan(error)
  })
})

describe('a transform that is no shift', () => {
  const t: Transform = [1.03, 0.04, -2.6, -0.03, 0.98, 1.3, 2e-4, -3e-4, 1]
  const source = wallPlane(texturedWall(), { x: 3, y: 4, w: 30, h: 20 })

  test('is the defining sum at every pixel', () => {
    const out = plane(6, 7, 20, 12)
    resample(workspace, source, t, out, LANCZOS3)
    for (const [i, v] of out.data.entries())
      expect(v).toBeCloseTo(warpedSample(source, t, 6 + (i % 20), 7 + Math.floor(i / 20), LANCZOS3), 5)
  })

  test("may write into the source's own samples", () => {
    const wanted = plane(6, 7, 20, 12)
    resample(workspace, source, t, wanted)
    const own = { ...source, data: source.data.slice() }
    const out = { ...wanted, data: own.data.subarray(0, wanted.data.length) }
    resample(workspace, own, t, out)
    expect(out.data).toEqual(wanted.data)
  })

  test('close to a shift gives what the shift gives', () => {
    const [out, wanted] = [plane(6, 7, 20, 12), plane(6, 7, 20, 12)]
    resample(workspace, source, [1, 1e-12, 0.4, 0, 1, -0.7, 0, 0, 1], out)
    resample(workspace, source, shift(0.4, -0.7), wanted)
    for (const [i, v] of wanted.data.entries()) expect(out.data[i]).toBeCloseTo(v, 5)
  })
})

test.each([
  { name: 'a part of a pixel', transform: shift(1.3, -0.6) },
  { name: 'whole pixels', transform: shift(-2, 3) },
  { name: 'far beyond the picture', transform: shift(90, 0.5) },
  { name: 'a turn', transform: [0.98, -0.17, 2, 0.17, 0.98, -1, 0, 0, 1] as Transform },
])('interleaved channels moved by $name are each what it is by itself', ({ transform }) => {
  const random = normal(5)
  for (const [w, h] of [
    [1, 1],
    [3, 2],
    [37, 11],
  ]) {
    const rect = { x: 4, y: -3, w: w!, h: h! }
    const window = { x: 5, y: -4, w: w! + 3, h: h! + 2 }
    const data = Float32Array.from({ length: 3 * w! * h! }, () => random())
    const out = new Float32Array(3 * window.w * window.h)
    resampleRgb(workspace, { rect, data }, transform, { rect: window, data: out }, LANCZOS3)
    for (let c = 0; c < 3; c++) {
      const source = plane(rect.x, rect.y, rect.w, rect.h)
      for (let i = 0; i < source.data.length; i++) source.data[i] = data[3 * i + c]!
      const moved = plane(window.x, window.y, window.w, window.h)
      resample(workspace, source, transform, moved, LANCZOS3)
      for (const [i, v] of moved.data.entries()) expect(Math.abs(out[3 * i + c]! - v)).toBeLessThan(2e-6)
    }
  }
})
