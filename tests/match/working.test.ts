import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { CLIPPED, GOOD, HOLE, working } from '../../src/match/working.js'

const INF = Number.POSITIVE_INFINITY

function one(r: number, g: number, b: number, clip = INF) {
  const { log, trust } = working(Float32Array.of(r, g, b), 0, 0, 1, 1, clip)
  return { log: log.data[0], trust: trust[0] }
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

  test('lies where the rectangle lies', () => {
    const { log } = working(new Float32Array(18), 7, 9, 3, 2, INF)
    expect(log).toMatchObject({ x: 7, y: 9, width: 3, height: 2 })
  })
})

describe('what a pixel is trusted for', () => {
  test('a clipped highlight in any one channel is no measure of light', () => {
    expect(one(0.5, 0.5, 0.5, 0.998).trust).toBe(GOOD)
    expect(one(1, 0.5, 0.5, 0.998).trust).toBe(CLIPPED)
    expect(one(0.5, 0.5, 1, 0.998).trust).toBe(CLIPPED)
  })

  test('light above 1 in a float plate is light, not clipping', () => {
    expect(one(40, 40, 40).trust).toBe(GOOD)
  })

  test('black and below black are seen', () => {
    expect(one(0, 0, 0)).toEqual({ log: -12, trust: GOOD })
    expect(one(-0.2, -0.1, 0)).toEqual({ log: -12, trust: GOOD })
  })

  test('whatever comes in, the log is finite, and only what is finite is trusted', () => {
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
          const { log, trust } = working(Float32Array.from(pixels.flat()), 0, 0, pixels.length, 1, INF)
          for (const [i, pixel] of pixels.entries()) {
            expect(Number.isFinite(log.data[i])).toBe(true)
            expect(trust[i] === HOLE).toBe(!pixel.every(Number.isFinite))
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
    const a = working(good, 0, 0, 10, 1, INF)
    const b = working(ill, 0, 0, 10, 1, INF)
    for (let i = 0; i < 10; i++) if (i !== 4) expect(b.log.data[i]).toBe(a.log.data[i])
    expect([...b.trust]).toEqual([1, 1, 1, 1, 0, 1, 1, 1, 1, 1])
  })
})
