import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { CLIPPED, INVALID, logLuminance, VALID } from '../../src/match/log-luminance.js'
import { floatsToHalves, halfToFloat } from '../../src/raster/half.js'

const workspace = new Workspace()

const INF = Number.POSITIVE_INFINITY

function halves(...linear: number[]): Uint16Array {
  const out = new Uint16Array(linear.length)
  floatsToHalves(Float32Array.from(linear), out)
  return out
}

const at = (w: number, h = 1) => ({ x: 0, y: 0, w, h })

function one(r: number, g: number, b: number, clip = INF) {
  const { log, validity } = logLuminance(workspace, halves(r, g, b), at(1), clip)
  return { log: log.data[0], validity: validity[0] }
}

describe('log luminance', () => {
  test('a stop of light adds one, within 0.01 from mid grey up', () => {
    for (const light of [0.18, 0.4, 3, 100]) {
      expect(one(2 * light, 2 * light, 2 * light).log - one(light, light, light).log).toBeCloseTo(1, 2)
    }
  })

  test('weighs the channels as ITU-R BT.709-6 does', () => {
    for (const [rgb, y] of [
      [[1, 0, 0], 0.2126],
      [[0, 1, 0], 0.7152],
      [[0, 0, 1], 0.0722],
    ] as const) {
      expect(2 ** one(rgb[0], rgb[1], rgb[2]).log).toBeCloseTo(y, 3)
    }
  })

  test('is the exact logarithm within a millionth of a stop, for every half there is above black', () => {
    for (let h = 1; h < 0x7c00; h += 7) {
      const { log } = logLuminance(workspace, Uint16Array.of(h, h, h), at(1), INF)
      const exact = Math.log2(Math.fround(halfToFloat(h) + 2 ** -12))
      expect(Math.abs(log.data[0] - exact)).toBeLessThan(2e-6)
    }
  })

  test('and validity equal the straight way, whatever pixels stand side by side', () => {
    const half = fc.oneof(
      { weight: 6, arbitrary: fc.integer({ min: 0x0400, max: 0x3bff }) },
      { weight: 1, arbitrary: fc.integer({ min: 0, max: 0xffff }) },
    )
    fc.assert(
      fc.property(
        fc.array(fc.tuple(half, half, half), { minLength: 1, maxLength: 40 }),
        fc.constantFrom(INF, 1, 0.998, 0.3),
        (pixels, clip) => {
          const { log, validity } = logLuminance(
            workspace,
            Uint16Array.from(pixels.flat()),
            at(pixels.length),
            clip,
          )
          let last = Math.log2(0.18)
          let rounding = 0
          for (const [i, pixel] of pixels.entries()) {
            const [r, g, b] = pixel.map(halfToFloat)
            const light = 0.2126 * r + 0.7152 * g + 0.0722 * b
            const seen = [r, g, b].every(Number.isFinite)
            expect(validity[i]).toBe(!seen ? INVALID : Math.max(r, g, b) < clip ? VALID : CLIPPED)
            // A hole shows the last value that is none.
            if (seen) last = Math.log2(Math.max(0, light) + 2 ** -12)
            // Where channels below black take most of the light away, float32 rounds what they leave.
            rounding = seen ? (4e-7 * Math.max(...[r, g, b].map(Math.abs))) / 2 ** last : rounding
            expect(Math.abs(log.data[i] - last)).toBeLessThan(2e-6 + rounding)
          }
        },
      ),
      { seed: 13, numRuns: 500 },
    )
  })

  test('lies where the rectangle lies', () => {
    const { log } = logLuminance(workspace, new Uint16Array(18), { x: 7, y: 9, w: 3, h: 2 }, INF)
    expect(log).toMatchObject({ x: 7, y: 9, width: 3, height: 2 })
  })
})

describe('what a pixel is valid for', () => {
  test('a clipped highlight in any one channel is no measure of light', () => {
    expect(one(0.5, 0.5, 0.5, 0.998).validity).toBe(VALID)
    expect(one(1, 0.5, 0.5, 0.998).validity).toBe(CLIPPED)
    expect(one(0.5, 0.5, 1, 0.998).validity).toBe(CLIPPED)
  })

  test('light above 1 in a float plate is light, not clipping', () => {
    expect(one(40, 40, 40).validity).toBe(VALID)
  })

  test('black and below black are seen', () => {
    expect(one(0, 0, 0)).toEqual({ log: -12, validity: VALID })
    expect(one(-0.2, -0.1, 0)).toEqual({ log: -12, validity: VALID })
  })

  test('whatever comes in, the log is finite, and only what is finite is valid', () => {
    const hostile = fc.oneof(
      fc.float({ min: -2, max: 20, noNaN: true }),
      fc.constantFrom(
        Number.NaN,
        INF,
        -INF,
        1e-45,
        -1e-45,
        3.4028234663852886e38,
        -3.4028234663852886e38,
        65504,
      ),
    )
    fc.assert(
      fc.property(
        fc.array(fc.tuple(hostile, hostile, hostile), { minLength: 1, maxLength: 30 }),
        (pixels) => {
          const { log, validity } = logLuminance(workspace, halves(...pixels.flat()), at(pixels.length), INF)
          for (const [i, pixel] of pixels.entries()) {
            expect(Number.isFinite(log.data[i])).toBe(true)
            // From 65520 up a half is infinite.
            expect(validity[i] === INVALID).toBe(!pixel.every((v) => Math.abs(v) < 65520))
          }
        },
      ),
      { seed: 12, numRuns: 500 },
    )
  })

  test('a NaN pixel changes no other', () => {
    const good = Float32Array.from({ length: 30 }, (_, i) => 0.1 + i / 100)
    const ill = good.slice()
    ill[13] = Number.NaN
    const a = logLuminance(workspace, halves(...good), at(10), INF)
    const b = logLuminance(workspace, halves(...ill), at(10), INF)
    for (let i = 0; i < 10; i++) if (i !== 4) expect(b.log.data[i]).toBe(a.log.data[i])
    expect([...b.validity]).toEqual([1, 1, 1, 1, 0, 1, 1, 1, 1, 1])
  })
})
