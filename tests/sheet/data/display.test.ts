import { describe, expect, test } from 'vitest'
import { decode, encode } from '../../../src/colour/transfer.js'
import { frame } from '../../../src/raster/frame.js'
import { previewExposure, toDisplay } from '../../../src/sheet/data/display.js'

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

describe('the exposure of the previews', () => {
  test('is as shot where the highlights fit the screen', () => {
    expect(previewExposure(grey(...Array(1000).fill(0.5)))).toBe(0)
  })

  test('comes down in thirds of a stop until the highlights of a linear plate are whole', () => {
    const stops = previewExposure(grey(...Array(1000).fill(3)))
    expect(stops).toBeCloseTo(-5 / 3, 10) // log2(3) is 1.585, the next third below is 1.667
    expect(3 * 2 ** stops).toBeLessThanOrEqual(1)
  })

  test('comes up where the plate is so dark that a seam would drown in 8 bits', () => {
    expect(previewExposure(grey(...Array(1000).fill(0.01)))).toBe(3)
  })

  test('leaves a black plate alone', () => {
    expect(previewExposure(grey(0, 0, 0))).toBe(0)
  })
})
