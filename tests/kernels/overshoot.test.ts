// What was moved by a filter with negative weights, kept within what its source has round each place: against plain loops, and by
// laws of edges and of grain.
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { keepWithin } from '../../src/kernels/overshoot.js'
import { resampleRgb } from '../../src/kernels/resample.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { LANCZOS3 } from '../../src/raster/filters.js'
import { grow } from '../../src/raster/rect.js'
import { apply, invert, shift, type Transform } from '../../src/raster/transform.js'
import { normal } from '../synthetic.js'

const workspace = new Workspace()
const small = (max: number) => fc.double({ min: -max, max, noNaN: true })
const turned: fc.Arbitrary<Transform> = fc
  .record({
    turn: small(0.5),
    size: fc.double({ min: 0.8, max: 2, noNaN: true }),
    tilt: small(1e-3),
    dx: small(9),
    dy: small(9),
  })
  .map(({ turn, size, tilt, dx, dy }) => {
    const [c, s] = [size * Math.cos(turn), size * Math.sin(turn)]
    return [c, -s, dx, s, c, dy, tilt, -tilt, 1]
  })
const shifts = fc.record({ dx: small(5), dy: small(5) }).map(({ dx, dy }): Transform => shift(dx, dy))
const transforms = fc.oneof(turned, shifts)

test('is each sample within what the samples round its place span, and hardly more', () => {
  const size = fc.record({ w: fc.integer({ min: 1, max: 13 }), h: fc.integer({ min: 1, max: 11 }) })
  fc.assert(
    fc.property(
      transforms,
      size,
      size,
      fc.integer({ min: 1, max: 3 }),
      fc.integer({ min: 0, max: 1e6 }),
      fc.boolean(),
      (t, from, to, reach, start, isRoomy) => {
        const out = { x: -1, y: 4, ...to }
        const rect = isRoomy ? grow(out, 9) : { x: 2, y: -3, ...from }
        const grain = normal(start)
        const source = Float32Array.from({ length: 3 * rect.w * rect.h }, grain)
        const moved = Float32Array.from({ length: 3 * out.w * out.h }, () => 2 * grain())
        const wanted = moved.slice()
        for (let y = 0, i = 0; y < out.h; y++)
          for (let x = 0; x < out.w; x++)
            for (let c = 0; c < 3; c++, i++) {
              const at = apply(invert(t), out.x + x, out.y + y)
              // Which sample is the one before a place on a sample hangs on rounding.
              if ([at.x, at.y].some((v) => Math.abs(v - Math.round(v)) < 1e-6)) wanted[i] = Number.NaN
              if (Number.isNaN(wanted[i])) continue
              const near: number[] = []
              for (let v = 1 - reach; v <= reach; v++)
                for (let u = 1 - reach; u <= reach; u++) {
                  const [px, py] = [Math.floor(at.x) - rect.x + u, Math.floor(at.y) - rect.y + v]
                  const [sx, sy] = [
                    Math.min(Math.max(px, 0), rect.w - 1),
                    Math.min(Math.max(py, 0), rect.h - 1),
                  ]
                  near.push(source[3 * (sy * rect.w + sx) + c])
                }
              const [least, most] = [Math.min(...near), Math.max(...near)]
              const span = 0.25 * (most - least)
              const below = least - Math.min(span, 0.05 * Math.abs(least))
              const above = most + Math.min(span, 0.05 * Math.abs(most))
              wanted[i] = Math.min(above, Math.max(below, moved[i]))
            }
        const before = source.slice()
        keepWithin(workspace, { rect, data: source }, t, { rect: out, data: moved }, reach)
        expect(source).toEqual(before)
        for (const [i, v] of moved.entries())
          if (!Number.isNaN(wanted[i])) expect(Math.abs(v - wanted[i])).toBeLessThan(1e-5)
      },
    ),
  )
})

describe('a picture moved by a part of a pixel', () => {
  const [w, h] = [96, 64]
  const rect = { x: 0, y: 0, w, h }
  const window = { x: 8, y: 8, w: w - 16, h: h - 16 }
  /** @returns as Lanczos leaves it, and kept within */
  const movedBy = (light: (x: number, y: number) => number, dx: number, dy: number) => {
    const data = Float32Array.from({ length: 3 * w * h }, (_, i) => {
      const p = Math.floor(i / 3)
      return light(p % w, Math.floor(p / w))
    })
    const raw = new Float32Array(3 * window.w * window.h)
    resampleRgb(workspace, { rect, data }, shift(dx, dy), { rect: window, data: raw }, LANCZOS3)
    const kept = raw.slice()
    keepWithin(workspace, { rect, data }, shift(dx, dy), { rect: window, data: kept }, 2)
    return { raw, kept }
  }

  test('has no dark line along what is bright, where the filter makes one', () => {
    const { raw, kept } = movedBy((x) => (x < 48 ? 0.02 : 0.9), 0.5, 0)
    expect(Math.min(...raw)).toBeLessThan(0)
    expect(Math.min(...kept)).toBeCloseTo(0.95 * 0.02, 6)
    expect(Math.max(...kept)).toBeLessThan(1.05 * 0.9 + 1e-6)
  })

  test('keeps its grain: of its variance less than two per cent are lost', () => {
    const grain = normal(5)
    const noise = Float32Array.from({ length: w * h }, grain)
    const variance = (values: Float32Array) =>
      values.reduce((sum, v) => sum + (v - 1) ** 2, 0) / values.length
    for (const [dx, dy] of [
      [0.5, 0.5],
      [0.25, -0.4],
      [0.1, 0.5],
    ]) {
      const { raw, kept } = movedBy((x, y) => 1 + 0.05 * noise[y * w + x], dx, dy)
      expect(variance(kept) / variance(raw)).toBeGreaterThan(0.98)
    }
  })
})
