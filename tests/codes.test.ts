// The quick way to codes is the formula: all tests' plates are written by it.
import { expect, test } from 'vitest'
import { codesOf, srgbOf } from './codes.js'
import { grainOf, normal, random } from './synthetic.js'

const plain = (v: number) => Math.round(65535 * Math.min(1, srgbOf(Math.max(0, v))))

test('light becomes the nearest code, from far below black to beyond white', () => {
  const even = random(3)
  const light = Float32Array.from({ length: 200_000 }, (_, i) =>
    i % 2 ? 1.2 * even() - 0.05 : 2 ** (-30 * even()),
  )
  light.set([0, -0, 1, 1 - 2 ** -24, 2 ** -24, -1, 7, 0.0031308, Number.POSITIVE_INFINITY])
  const codes = codesOf(light)
  let apart = 0
  for (let i = 0; i < light.length; i++) if (codes[i] !== plain(light[i])) apart++
  expect(apart).toBe(0)
})

test('every code is met by its own light', () => {
  const light = Float32Array.from({ length: 65536 }, (_, code) => {
    const v = code / 65535
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
  })
  expect(codesOf(light).every((code, i) => code === i)).toBe(true)
})

test('grain that is kept is the grain that was drawn', () => {
  const next = normal(5)
  const drawn = Float64Array.from({ length: 100 }, next)
  expect(grainOf(5, 100)).toEqual(drawn)
  expect(grainOf(5, 100)).toEqual(drawn)
  expect(grainOf(6, 100)).not.toEqual(drawn)
})
