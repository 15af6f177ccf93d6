import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { warp, warpHalves } from '../../src/kernels/warp.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { BILINEAR, CUBIC, LANCZOS3, NEAREST } from '../../src/raster/filters.js'
import { bitsToHalf, floatsToHalves, HALF_MAX, HALF_NAN, halfToFloat } from '../../src/raster/half.js'
import type { Rect } from '../../src/raster/rect.js'
import { apply, compose, invert, shift, type Transform } from '../../src/raster/transform.js'
import { normal, texturedWall } from '../synthetic.js'
import { warpedSample } from './warp.reference.js'

const workspace = new Workspace()
const ONE = { channels: 1, beyond: 'edge' } as const
const small = (max: number) => fc.double({ min: -max, max, noNaN: true })
/** Turned, nearer or up to three times as far, tilted. */
const transforms: fc.Arbitrary<Transform> = fc
  .record({
    turn: small(3),
    size: fc.double({ min: 0.33, max: 2, noNaN: true }),
    tilt: small(2e-3),
    dx: small(9),
    dy: small(9),
  })
  .map(({ turn, size, tilt, dx, dy }) => {
    const [c, s] = [size * Math.cos(turn), size * Math.sin(turn)]
    return [c, -s, dx, s, 1.2 * c, dy, tilt, -tilt, 1]
  })

describe.each([
  { name: 'nearest', filter: NEAREST },
  { name: 'bilinear', filter: BILINEAR },
  { name: 'cubic', filter: CUBIC },
  { name: 'Lanczos', filter: LANCZOS3 },
])('a picture under any transform, $name', ({ filter }) => {
  test('is the defining sum at every pixel, of one channel and of three', () => {
    fc.assert(
      fc.property(
        transforms,
        fc.record({ w: fc.integer({ min: 1, max: 13 }), h: fc.integer({ min: 1, max: 11 }) }),
        fc.record({
          w: fc.integer({ min: 1, max: 9 }),
          h: fc.integer({ min: 1, max: 9 }),
          x: fc.integer({ min: -9, max: 9 }),
          y: fc.integer({ min: -9, max: 9 }),
        }),
        fc.integer({ min: 0, max: 1e6 }),
        (t, size, to, start) => {
          const from = { x: 2, y: -3, ...size }
          const grain = normal(start)
          const rgb = Float32Array.from({ length: from.w * from.h * 3 }, grain)
          const before = rgb.slice()
          const out = new Float32Array(to.w * to.h * 3)
          warp(
            workspace,
            { rect: from, data: rgb },
            t,
            { rect: to, data: out },
            { channels: 3, filter, beyond: 'edge' },
          )
          expect(rgb).toEqual(before)
          for (let c = 0; c < 3; c++) {
            const data = rgb.filter((_, i) => i % 3 === c)
            const alone = new Float32Array(to.w * to.h)
            warp(workspace, { rect: from, data }, t, { rect: to, data: alone }, { ...ONE, filter })
            const source = { ...from, width: from.w, height: from.h, data }
            for (let y = to.y, i = 0; y < to.y + to.h; y++)
              for (let x = to.x; x < to.x + to.w; x++, i++) {
                const place = apply(invert(t), x, y)
                // Half-way between two samples rounding decides which is nearer.
                if (
                  filter === NEAREST &&
                  [place.x, place.y].some((v) => Math.abs(v - Math.floor(v) - 0.5) < 1e-6)
                )
                  continue
                const wanted = warpedSample(source, t, x, y, filter)
                expect(Math.abs(alone[i] - wanted)).toBeLessThan(2e-5)
                expect(Math.abs(out[3 * i + c] - wanted)).toBeLessThan(2e-5)
              }
          }
        },
      ),
      { seed: 7, numRuns: 60 },
    )
  })

  test('shows the edge sample wherever a tilted picture ends, its horizon too', () => {
    const rect = { x: 0, y: 0, w: 6, h: 5 }
    const to = { x: -40, y: -40, w: 90, h: 90 }
    const out = new Float32Array(90 * 90)
    // Its horizon lies at x = 20.
    const tilted = invert([1, 0, 0, 0, 1, 0, -0.05, 0, 1])
    warp(
      workspace,
      { rect, data: new Float32Array(30).fill(0.37) },
      tilted,
      { rect: to, data: out },
      { ...ONE, filter },
    )
    for (const v of out) expect(v).toBeCloseTo(0.37, 5)
  })
})

test('stripes finer than the result can hold are even grey when a take at twice the size is lent, and no moire', () => {
  // Planted: stripes three pixels wide in a picture that is made 2.2 times smaller; their mean is 0.5.
  const rect = { x: 0, y: 0, w: 120, h: 80 }
  const data = Float32Array.from(
    { length: 9600 },
    (_, i) => 0.5 + 0.5 * Math.cos((2 * Math.PI * (i % 120)) / 3),
  )
  const out = { rect: { x: 12, y: 12, w: 30, h: 12 }, data: new Float32Array(360) }
  const t: Transform = [1 / 2.2, 0, 0, 0, 1 / 2.2, 0, 0, 0, 1]
  warp(workspace, { rect, data }, t, out, { ...ONE, filter: LANCZOS3 })
  for (const v of out.data) expect(Math.abs(v - 0.5)).toBeLessThan(0.03)
})

describe('halves', () => {
  const FROM: Rect = { x: 10, y: 20, w: 40, h: 30 }
  const wall = texturedWall(3)
  /** The green of the pixel at (30, 35). */
  const SPOILT = 3 * (15 * FROM.w + 20) + 1
  const TURNED: Transform = [1.03, 0.04, -2.6, -0.03, 0.98, 1.3, 2e-4, -3e-4, 1]

  function shown(spoil: (pixels: Float32Array) => void = () => {}): Uint16Array {
    const pixels = Float32Array.from({ length: FROM.w * FROM.h * 3 }, (_, i) => {
      const p = Math.floor(i / 3)
      return (1 + (i % 3)) * wall(FROM.x + (p % FROM.w), FROM.y + Math.floor(p / FROM.w))
    })
    spoil(pixels)
    const halves = new Uint16Array(pixels.length)
    floatsToHalves(pixels, halves)
    return halves
  }

  test('are a wall seen from a turned camera, channel by channel', () => {
    const to = { x: 18, y: 26, w: 22, h: 16 }
    const found = warpHalves(shown(), FROM, TURNED, to)
    for (let i = 0; i < to.w * to.h; i++) {
      const from = apply(invert(TURNED), to.x + (i % to.w), to.y + Math.floor(i / to.w))
      for (let c = 0; c < 3; c++) {
        const stops = Math.log2(halfToFloat(found[3 * i + c])) - Math.log2((1 + c) * wall(from.x, from.y))
        // The filter's own error on 5 px waves.
        expect(Math.abs(stops)).toBeLessThan(0.06)
      }
    }
  })

  test.each([
    { title: 'turned', t: TURNED },
    { title: 'moved by a part of a pixel', t: shift(3.4, -2.6) },
    { title: 'moved by whole pixels', t: shift(7, -4) },
    { title: 'a third of its size', t: compose(shift(20, 20), [0.33, 0, 0, 0, 0.33, 0, 0, 0, 1]) },
  ])('$title: nothing is shown where the source has no pixel, and everything elsewhere', ({ t }) => {
    const to = { x: 0, y: 8, w: 70, h: 60 }
    const found = warpHalves(shown(), FROM, t, to)
    let covered = 0
    for (let i = 0; i < to.w * to.h; i++) {
      const from = apply(invert(t), to.x + (i % to.w), to.y + Math.floor(i / to.w))
      const inside =
        from.x >= FROM.x - 0.5 &&
        from.y >= FROM.y - 0.5 &&
        from.x < FROM.x + FROM.w - 0.5 &&
        from.y < FROM.y + FROM.h - 0.5
      if (inside) covered++
      for (let c = 0; c < 3; c++) expect(found[3 * i + c] === HALF_NAN).toBe(!inside)
    }
    expect(covered).toBeGreaterThan(100)
  })

  test.each([
    { title: 'turned', t: TURNED, reach: 2 },
    { title: 'moved by a part of a pixel', t: shift(0.5, 0.5), reach: 2 },
    { title: 'where it lies', t: shift(0, 0), reach: 0.5 },
  ])('$title: a sample that is not finite takes what its filter reaches, and no more', ({ t, reach }) => {
    const spoilt = (value: number) => shown((pixels) => pixels.fill(value, SPOILT, SPOILT + 1))
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY]) {
      const found = warpHalves(spoilt(value), FROM, t, { ...FROM, x: 20, w: 20, y: 28, h: 14 })
      for (let i = 0; i < 20 * 14; i++) {
        const from = apply(invert(t), 20 + (i % 20), 28 + Math.floor(i / 20))
        const away = Math.max(Math.abs(from.x - 30), Math.abs(from.y - 35))
        if (Math.abs(away - reach) < 0.1) continue
        for (let c = 0; c < 3; c++) expect(found[3 * i + c] === HALF_NAN).toBe(away < reach)
      }
    }
  })

  test('moved by whole pixels are the same bits', () => {
    const source = shown()
    const found = warpHalves(source, FROM, shift(7, -4), { ...FROM, x: FROM.x + 7, y: FROM.y - 4 })
    expect(found).toEqual(source)
  })

  test('beside the brightest that a half can be are no infinity', () => {
    const bright = shown((pixels) => pixels.set(pixels.map((_, i) => (i % 120 < 60 ? HALF_MAX : 0))))
    const found = warpHalves(bright, FROM, shift(0.5, 0), { ...FROM, x: 14, w: 30 })
    expect(Math.max(...Array.from(found, halfToFloat))).toBe(HALF_MAX)
    expect(found.includes(HALF_NAN) || found.includes(bitsToHalf(0x7f800000))).toBe(false)
  })
})
