import { expect, test } from 'vitest'
import { LUMINANCE_WEIGHTS, luminance } from '../../src/colour/luminance.js'
import { frame } from '../../src/raster/frame.js'

test('the weights are those of ITU-R BT.709-6 and make white 1', () => {
  expect(LUMINANCE_WEIGHTS).toEqual([0.2126, 0.7152, 0.0722])
  expect(LUMINANCE_WEIGHTS.reduce<number>((a, b) => a + b, 0)).toBeCloseTo(1, 12)
})

test('red, green, blue, grey and an alpha channel that is left out', () => {
  const picture = frame(2, 2, 4, Float32Array.of(1, 0, 0, 9, 0, 1, 0, 9, 0, 0, 1, 9, 0.5, 0.5, 0.5, 9))
  const y = luminance(picture)
  expect(y.shape).toEqual([2, 2, 1])
  expect([...y.data].map((v) => +v.toFixed(6))).toEqual([0.2126, 0.7152, 0.0722, 0.5])
})

test('NaN and infinity show in the luminance, and the picture stays as it was', () => {
  const samples = Float32Array.of(Number.NaN, 1, 1, 1, Number.POSITIVE_INFINITY, 1)
  const y = luminance(frame(1, 2, 3, samples))
  expect([...y.data]).toEqual([Number.NaN, Number.POSITIVE_INFINITY])
  expect([...samples]).toEqual([Number.NaN, 1, 1, 1, Number.POSITIVE_INFINITY, 1])
})
