import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { bitsToHalf, floatsToHalves, HALF_MAX, halfToFloat, halvesToFloats } from '../../src/raster/half.js'

function toHalf(value: number): number {
  const out = new Uint16Array(1)
  floatsToHalves(Float32Array.of(value), out)
  return out[0]!
}

describe('half floats', () => {
  // IEEE 754-2019 table 3.5: binary16 has 5 exponent bits (bias 15) and 10 mantissa bits; values worked out from that.
  test.each([
    ['zero', 0x0000, 0],
    ['minus zero', 0x8000, -0],
    ['one', 0x3c00, 1],
    ['the next after one', 0x3c01, 1 + 2 ** -10],
    ['minus two', 0xc000, -2],
    ['the largest finite', 0x7bff, 65504],
    ['the smallest normal', 0x0400, 2 ** -14],
    ['the largest subnormal', 0x03ff, 2 ** -14 - 2 ** -24],
    ['the smallest subnormal', 0x0001, 2 ** -24],
    ['infinity', 0x7c00, Number.POSITIVE_INFINITY],
    ['minus infinity', 0xfc00, Number.NEGATIVE_INFINITY],
  ])('%s is %i both ways', (_, half, value) => {
    expect(halfToFloat(half)).toBe(value)
    expect(toHalf(value)).toBe(half)
  })

  test('every half survives the way to float32 and back, and halves ascend', () => {
    const halves = Uint16Array.from({ length: 65536 }, (_, h) => h)
    const floats = new Float32Array(65536)
    halvesToFloats(halves, floats)
    const back = new Uint16Array(65536)
    floatsToHalves(floats, back)
    for (let h = 0; h < 65536; h++) {
      if ((h & 0x7fff) > 0x7c00) expect(floats[h]).toBeNaN()
      else if (back[h] !== h) expect.fail(`half ${h} came back as ${back[h]}`)
      if (h > 0 && h <= 0x7c00 && !(floats[h]! > floats[h - 1]!))
        expect.fail(`half ${h} is not above its neighbour`)
    }
  })

  // Outside: numpy's float16, by fixtures/exr/make_half.py.
  test('float32 rounds to the same half as in numpy, ties to even, at every magnitude', () => {
    const file = readFileSync('fixtures/exr/half.bin')
    const count = file.length / 6
    expect(count).toBe(8000)
    for (let i = 0; i < count; i++) {
      const bits = file.readUInt32LE(i * 4)
      const wanted = file.readUInt16LE(count * 4 + i * 2)
      const got = bitsToHalf(bits)
      if (got !== wanted)
        expect.fail(`float bits ${bits.toString(16)}: ${got.toString(16)}, numpy ${wanted.toString(16)}`)
    }
  })

  test('what lies half-way between the largest half and the next power of two becomes infinity', () => {
    expect(toHalf(65519.99609375)).toBe(toHalf(HALF_MAX))
    expect(toHalf(65520)).toBe(0x7c00)
  })

  test('NaN stays NaN whatever its payload', () => {
    for (const bits of [0x7f800001, 0x7fc00000, 0xff801fff, 0xffffffff]) {
      expect(halfToFloat(bitsToHalf(bits))).toBeNaN()
    }
  })
})
