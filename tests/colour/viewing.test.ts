import { describe, expect, test } from 'vitest'
import type { Encoding } from '../../src/colour/encoding.js'
import type { Look, Table } from '../../src/colour/look/look.js'
import { decode, encode } from '../../src/colour/transfer.js'
import { inputOf, viewingOf } from '../../src/colour/viewing.js'
import { frame } from '../../src/raster/frame.js'

const { toDisplay, exposureOf } = viewingOf({ encoding: 'linear' })

const grey = (...levels: number[]) => frame(1, levels.length, 1, Float32Array.from(levels))

describe('what a screen shows of linear light', () => {
  // IEC 61966-2-1:1999: V = 12.92 L up to 0.0031308, else 1.055 L^(1/2.4) - 0.055; the codes are worked out by hand.
  test.each([
    [0, 0],
    [0.0031308, 10],
    [0.18, 118],
    [0.214041, 127],
    [0.5, 188],
    [1, 255],
  ])('linear %f is sRGB code %i', (linear, code) => {
    expect(toDisplay(grey(linear))[0]).toBe(code)
  })

  test('the table is within one half code of the formula all the way from black to white', () => {
    const levels = Array.from({ length: 5001 }, (_, i) => i / 5000)
    const shown = toDisplay(grey(...levels))
    for (const [i, level] of levels.entries())
      expect(Math.abs(shown[i] - 255 * encode(level, 'srgb'))).toBeLessThan(0.56)
  })

  test.each([0.7, 1, 2.2])(
    'with gamma %f every step of the table is what the formula says of it, rounded',
    (gamma) => {
      const steps = Float32Array.from({ length: 65536 }, (_, i) => i / 65535)
      const shown = toDisplay(frame(1, steps.length, 1, steps), 0, gamma)
      const wrong = shown.filter(
        (code, i) => code !== Math.round(255 * encode(i / 65535, 'srgb') ** (1 / gamma)),
      )
      expect(wrong.length).toBe(0)
    },
  )

  test('every code comes back to itself over linear light', () => {
    for (let code = 0; code < 256; code++) expect(toDisplay(grey(decode(code / 255, 'srgb')))[0]).toBe(code)
  })

  test('light beyond the screen is held at its ends, and what is no number is black', () => {
    expect([...toDisplay(grey(-1, 7, Number.NaN, Infinity, -Infinity))]).toEqual([0, 255, 0, 255, 0])
  })

  test('one stop brighter shows what twice the light would', () => {
    expect([...toDisplay(grey(0.05, 0.2, 0.4), 1)]).toEqual([...toDisplay(grey(0.1, 0.4, 0.8))])
  })
})

describe('gamma', () => {
  // By its definition: what is shown, 0 to 1, to the power of one over gamma, from light and not from its eight bits.
  // Below, the steps of a 65,535th of light are larger than those of what is shown.
  const levels = Array.from({ length: 400 }, (_, i) => 0.002 + 0.998 * (i / 399) ** 3)
  const expected = (gamma: number) => levels.map((v) => 255 * encode(v, 'srgb') ** (1 / gamma))

  test.each([0.5, 1, 1.6, 3])('of %f raises what is shown, also through a look', (gamma) => {
    const picture = frame(1, levels.length, 3, Float32Array.from(levels.flatMap((v) => [v, v, v])))
    const values = Float32Array.of(0, 0, 0, 1, 1, 1)
    const curves: Table = { size: 2, min: [0, 0, 0], max: [1, 1, 1], values }
    const look: Look = { path: '', name: '', curves, cube: null }
    for (const viewing of [viewingOf({ encoding: 'srgb' }), viewingOf({ encoding: 'srgb', look })]) {
      const shown = viewing.toDisplay(picture, 0, gamma)
      for (const [i, code] of expected(gamma).entries())
        expect(Math.abs(shown[3 * i]! - code)).toBeLessThan(0.7)
    }
  })
})

describe('the exposure of the previews', () => {
  test('is as shot where the highlights fit the screen', () => {
    expect(exposureOf(grey(...Array(1000).fill(0.5)))).toBe(0)
  })

  test('comes down in thirds of a stop until the highlights of a linear plate are whole', () => {
    const stops = exposureOf(grey(...Array(1000).fill(3)))
    expect(stops).toBeCloseTo(-5 / 3, 10) // log2(3) is 1.585, the next third below is 1.667
    expect(3 * 2 ** stops).toBeLessThanOrEqual(1)
  })

  test('comes up where the plate is so dark that a seam would drown in 8 bits', () => {
    expect(exposureOf(grey(...Array(1000).fill(0.01)))).toBe(3)
  })

  test('is told by the sample below which 995 of 1000 lie, counted among what is finite', () => {
    // Above a screen, within it and below a tenth of it, with the brighter few on either side of the place.
    for (const [most, few] of [
      [0.5, 3],
      [0.05, 0.5],
      [2, 9],
      [0.05, 7],
    ]) {
      for (const count of [4, 5, 6, 7]) {
        const levels = Array.from({ length: 1001 }, (_, i) => (i < 1001 - count ? most : few))
        const sorted = [...levels].sort((a, b) => a - b)
        const alone = exposureOf(grey(...Array(3).fill(sorted[Math.floor(1000 * 0.995)])))
        expect(exposureOf(grey(Number.NaN, ...levels, Number.POSITIVE_INFINITY))).toBe(alone)
      }
    }
  })

  test('leaves a black plate alone', () => {
    expect(exposureOf(grey(0, 0, 0))).toBe(0)
  })
})

describe('a plate whose header names other primaries', () => {
  // AP1 and the ACES white, S-2014-004
  const chromaticities = [0.713, 0.293, 0.165, 0.83, 0.128, 0.044, 0.32168, 0.33767]
  const aces = viewingOf({ encoding: 'linear', chromaticities })

  test('shows its colours as they are: ACEScg’s code for BT.709’s red is red', () => {
    // the inverse of the matrix in fixtures/colour/primaries.json, first column: BT.709's red in ACEScg
    const red = frame(1, 1, 3, Float32Array.of(0.61309, 0.07019, 0.02062))
    const [r, g, b] = aces.toDisplay(red)
    expect(r).toBe(255)
    expect(Math.max(g!, b!)).toBeLessThan(3)
  })

  test('has the same greys', () => {
    const greys = frame(1, 3, 3, Float32Array.from([0.02, 0.18, 0.9].flatMap((v) => [v, v, v])))
    expect([...aces.toDisplay(greys, 0.5)]).toEqual([...toDisplay(greys, 0.5)])
  })

  test('loses none of the picture: what was read is left as it was', () => {
    const picture = frame(1, 2, 3, Float32Array.of(0.3, 0.2, 0.1, Number.NaN, 2, -1))
    const before = picture.data.slice()
    aces.toDisplay(picture)
    expect(picture.data).toEqual(before)
  })
})

describe('through a look', () => {
  const curvesTo = (max: number, ...levels: number[]): Look => {
    const values = Float32Array.from(levels.flatMap((v) => [v, v, v]))
    const curves: Table = { size: levels.length, min: [0, 0, 0], max: [max, max, max], values }
    return { path: '/show.cube', name: 'show', curves, cube: null }
  }
  const same = curvesTo(1, 0, 1)
  const rgb = (...levels: number[]) =>
    frame(1, levels.length, 3, Float32Array.from(levels.flatMap((v) => [v, v, v])))

  test.each(['srgb', 'rec709', 'cineon', 'logc3', 'slog3', 'acescct'] as const)(
    'a plate goes in as its files have it: a look that does nothing shows the codes of %s',
    (encoding: Encoding) => {
      const codes = Array.from({ length: 256 }, (_, code) => code)
      const light = rgb(...codes.map((code) => decode(code / 255, encoding)))
      const shown = viewingOf({ encoding, look: same }).toDisplay(light)
      for (const code of codes)
        expect(Math.abs(shown[3 * code]! - code), `code ${code}`).toBeLessThanOrEqual(1)
    },
  )

  test('of a linear plate ACEScct goes into a table that ends at 1', () => {
    expect(inputOf(same, 'linear')).toBe('acescct')
    // S-2016-001: mid grey 0.18 is 0.4135884, and 1 is 0.5547945
    const shown = viewingOf({ encoding: 'linear', look: same }).toDisplay(rgb(0.18, 1))
    expect([shown[0], shown[3]]).toEqual([105, 141])
  })

  test('of a linear plate the light itself goes into a table that reaches beyond 1', () => {
    const bright = curvesTo(4, 0, 1)
    expect(inputOf(bright, 'linear')).toBe('linear')
    expect(inputOf(bright, 'logc3')).toBe('logc3')
    const shown = viewingOf({ encoding: 'linear', look: bright }).toDisplay(rgb(0, 1, 2, 8))
    expect([0, 3, 6, 9].map((i) => shown[i])).toEqual([0, 64, 128, 255])
  })

  test('the look says how bright a plate is shown, and its primaries are left to it', () => {
    const chromaticities = [0.713, 0.293, 0.165, 0.83, 0.128, 0.044, 0.32168, 0.33767]
    const plain = viewingOf({ encoding: 'srgb', look: same })
    const wide = viewingOf({ encoding: 'srgb', look: same, chromaticities })
    const colour = frame(1, 1, 3, Float32Array.of(0.02, 0.01, 0.005))
    expect(plain.exposureOf(colour)).toBe(0)
    expect(wide.toDisplay(colour)).toEqual(plain.toDisplay(colour))
  })

  test('what a table holds beyond the display is held at its end', () => {
    const wild = curvesTo(1, -0.5, 1.5)
    expect([...viewingOf({ encoding: 'srgb', look: wild }).toDisplay(rgb(0, 1)).slice(2, 4)]).toEqual([
      0, 255,
    ])
  })

  test('where there is no picture it shows what it makes of black', () => {
    const lifted = curvesTo(1, 0.2, 1)
    expect([...viewingOf({ encoding: 'srgb', look: lifted }).toDisplay(rgb(Number.NaN))]).toEqual([
      51, 51, 51,
    ])
  })
})
