import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { CURVES } from '../../src/colour/curves.js'
import { chooseEncoding, ENCODINGS, type Encoding, isEncoding } from '../../src/colour/encoding.js'
import { decode, decodeInPlace, encode, encodeInPlace } from '../../src/colour/transfer.js'
import { option } from '../../src/errors.js'

/** Code value, 0 to 1, to linear light, as documents outside offcut state them. */
interface Stated {
  readonly encoding: Encoding
  readonly source: string
  /** Half of the last digit the document gives. */
  readonly within: number
  readonly pairs: readonly (readonly [code: number, linear: number])[]
}

const STATED: readonly Stated[] = [
  {
    encoding: 'srgb',
    source:
      'IEC 61966-2-1: both sides of the break, black and white; 0.735357 is its code for 0.5 (W3C Color 4)',
    within: 1e-6,
    pairs: [
      [0, 0],
      [1, 1],
      [0.04045, 0.0031308],
      [0.735357, 0.5],
      [128 / 255, 0.2158605],
    ],
  },
  {
    encoding: 'rec709',
    source:
      'ITU-R BT.709-6 item 1.2: break at L = 0.018, V = 0.081; black and white. 0.4090 for mid grey: computed',
    within: 1e-4,
    pairs: [
      [0, 0],
      [1, 1],
      [0.081, 0.018],
      [0.409008, 0.18],
    ],
  },
  {
    encoding: 'cineon',
    source:
      'code values 95 and 685 as black and white; 0.4573196 for mid grey by colour-science (BSD-3-Clause)',
    within: 1e-6,
    pairs: [
      [95 / 1023, 0],
      [685 / 1023, 1],
      [0.4573196, 0.18],
    ],
  },
  {
    encoding: 'acescct',
    source:
      'Academy S-2016-001: the break, X_BRK = 0.0078125 at Y_BRK = 0.155251141552511; 0.413588 for mid grey',
    within: 1e-6,
    pairs: [
      [0.155251141552511, 0.0078125],
      [0.0729055341958355, 0],
      [0.4135884, 0.18],
      [(Math.log2(65504) + 9.72) / 17.52, 65504],
    ],
  },
  {
    encoding: 'logc3',
    source: 'mid grey at 400 of 1023 (ARRI 2012); further digits by colour-science (BSD-3-Clause)',
    within: 1e-6,
    pairs: [
      [0.092809, 0],
      [0.391006832, 0.18],
      [0.570631558, 1],
    ],
  },
  {
    encoding: 'logc4',
    source: 'ARRI 2022: black at 95 of 1023; further values by colour-science (BSD-3-Clause)',
    within: 1e-6,
    pairs: [
      [95 / 1023, 0],
      [0.278395836548265, 0.18],
      [0.427519364835306, 1],
    ],
  },
  {
    encoding: 'film5',
    source: 'black, mid grey, white and 222.86 by colour-science (BSD-3-Clause)',
    within: 1e-5,
    pairs: [
      [0.092465753424658, 0],
      [0.383561643835617, 0.18],
      [0.530489624957305, 1],
      [0.999999631713769, 222.86],
    ],
  },
  {
    encoding: 'log3g10',
    source: 'RED 2017: mid grey at one third, ten stops above it at 1, -0.01 at 0',
    within: 2e-5 * 184.32,
    pairs: [
      [0, -0.01],
      [1 / 3, 0.18],
      [1, 0.18 * 2 ** 10],
    ],
  },
  {
    encoding: 'clog2',
    source: 'mid grey 0.398254692 by colour-science (BSD-3-Clause), Canon v1.2',
    within: 1e-6,
    pairs: [
      [95 / 1023, 0],
      [0.398254692, 0.18],
    ],
  },
  {
    encoding: 'nlog',
    source: 'mid grey 0.3636677 by colour-science (BSD-3-Clause)',
    within: 1e-6,
    pairs: [[0.3636677, 0.18]],
  },
]

describe('values that documents state', () => {
  for (const { encoding, source, within, pairs } of STATED) {
    test(`${encoding}: ${source}`, () => {
      for (const [code, linear] of pairs) {
        expect(Math.abs(decode(code, encoding) - linear), `code ${code}`).toBeLessThanOrEqual(within)
      }
    })
  }

  // The 10-bit tables for 0, 18 and 90 % reflectance printed in each maker's document, as colour-science cites them.
  const TABLES: readonly (readonly [Encoding, bits: number, black: number, grey: number, white: number])[] = [
    ['slog3', 10, 95, 420, 598],
    ['vlog', 10, 128, 433, 602],
    ['vlog', 12, 512, 1733, 2409],
    ['flog2', 10, 95, 400, 570],
  ]
  for (const [encoding, bits, ...codes] of TABLES) {
    test(`${encoding}, ${bits} bits: 0, 18 and 90 % reflectance at ${codes.join(', ')}`, () => {
      const written = [0, 0.18, 0.9].map((l) => Math.round(encode(l, encoding) * (2 ** bits - 1)))
      expect(written).toEqual(codes)
    })
  }
})

describe('every encoding', () => {
  const each = test.each(ENCODINGS.map((encoding) => [encoding] as const))

  each('%s: encoding undoes decoding', (encoding) => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1, noNaN: true }), (code) => {
        // the curves of BT.709, S-2016-001 and the makers round the constants at their break to six digits or so
        const tolerance = encoding === 'rec709' ? 2e-4 : 2e-6
        expect(Math.abs(encode(decode(code, encoding), encoding) - code)).toBeLessThan(tolerance)
      }),
      { seed: 11 },
    )
  })

  each('%s: decoding undoes encoding, for light below black and far above white', (encoding) => {
    fc.assert(
      fc.property(fc.double({ min: -0.05, max: 40, noNaN: true }), (linear) => {
        const tolerance = (encoding === 'rec709' ? 1e-4 : 1e-5) * Math.max(1, Math.abs(linear))
        expect(Math.abs(decode(encode(linear, encoding), encoding) - linear)).toBeLessThan(tolerance)
      }),
      { seed: 12 },
    )
  })

  each('%s: more code is more light', (encoding) => {
    // at its break BT.709 steps down by 5e-5 as its constants have three digits
    const dip = encoding === 'rec709' ? 1e-4 : 1e-7
    for (let code = 1; code < 4096; code++) {
      expect(decode(code / 4095, encoding)).toBeGreaterThan(decode((code - 1) / 4095, encoding) - dip)
    }
  })

  each('%s: the table for integers is the curve itself', (encoding) => {
    for (const levels of [255, 1023, 4095, 65535]) {
      const codes = Float32Array.from({ length: levels + 1 }, (_, i) => i / levels)
      const expected = Float32Array.from(codes, (_, i) => decode(i / levels, encoding))
      decodeInPlace(codes, encoding, { levels })
      expect(codes).toEqual(expected)
    }
  })

  each('%s: between the codes it is the curve as well, inside 0 to 1 and beyond', (encoding) => {
    const count = 100_000
    const codes = Float32Array.from({ length: count }, (_, i) => -0.4 + (1.8 * i) / count)
    const expected = Float32Array.from(codes, (code) => decode(code, encoding))
    decodeInPlace(codes, encoding, { between: true })
    // 2 ** -23 is a float's last bit
    const tooFar = (value: number, i: number) =>
      !(Math.abs(value - expected[i]!) <= Math.max(1e-8, 2 * 2 ** -23 * Math.abs(expected[i]!)))
    expect(codes.filter(tooFar)).toHaveLength(0)
    const odd = Float32Array.of(Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY)
    decodeInPlace(odd, encoding, { between: true })
    expect([...odd]).toEqual([Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY])
  })

  each('%s: a whole float picture goes through the curve and back, NaN and infinity stay', (encoding) => {
    const light = [0, 0.18, 1, 4, Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]
    const samples = Float32Array.from(light)
    encodeInPlace(samples, encoding)
    expect(samples[1]).toBeCloseTo(encode(0.18, encoding), 6)
    decodeInPlace(samples, encoding)
    for (const [i, expected] of light.entries()) {
      if (Number.isFinite(expected)) expect(Math.abs(samples[i]! - expected)).toBeLessThan(1e-4)
      else expect(samples[i]).toBe(expected)
    }
  })

  each('%s: its source is named', (encoding) => expect(CURVES[encoding].source).toMatch(/\w{3}/))
})

describe('auto', () => {
  test('EXR is linear light', () => {
    expect(chooseEncoding('auto', { format: 'exr' })).toEqual({
      encoding: 'linear',
      why: 'EXR holds linear light',
    })
  })

  test('what the file says goes before what its kind suggests', () => {
    const hint = { encoding: 'cineon', why: 'the header says printing density' } as const
    expect(chooseEncoding('auto', { format: 'dpx', hint })).toEqual(hint)
    expect(chooseEncoding('auto', { format: 'exr', hint })).toEqual(hint)
  })

  test('everything else is sRGB, and the reason names the format', () => {
    for (const format of ['png', 'tif', 'jpg', 'dpx', 'mov']) {
      const { encoding, why } = chooseEncoding('auto', { format })
      expect(encoding).toBe('srgb')
      expect(why).toContain(format.toUpperCase())
    }
  })

  test('an encoding asked for wins over all of it', () => {
    const hint = { encoding: 'cineon', why: 'the header says so' } as const
    expect(chooseEncoding('acescct', { format: 'exr', hint })).toEqual({
      encoding: 'acescct',
      why: 'as asked for',
    })
  })

  test('an unknown encoding is refused with the list of known ones', () => {
    expect(() => chooseEncoding('sRGBish', { format: 'png' })).toThrow(
      expect.objectContaining({
        code: 'MISUSE',
        exitCode: 2,
        message: `${option('encoding')} takes auto or one of ${ENCODINGS.join(', ')}, got "sRGBish"; did you mean srgb?`,
      }),
    )
    expect(isEncoding('toString')).toBe(false)
  })
})
