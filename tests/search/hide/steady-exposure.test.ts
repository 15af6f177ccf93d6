import fc from 'fast-check'
import { expect, test } from 'vitest'
import { type MeasuredLight, steadyExposure } from '../../../src/search/hide/steady-exposure.js'

const lit = (stops: number, apart = [0, 0, 0], plate = 0, donor = 1001): MeasuredLight => ({
  plate,
  donor,
  stops,
  light: [stops + apart[0], stops + apart[1], stops + apart[2]],
})

test('a real flicker of all channels is followed on every frame', () => {
  const frames = Array.from({ length: 30 }, (_, i) => lit(0.2 * (i % 2), [0.05, 0, -0.04]))
  for (const [i, light] of steadyExposure(frames).entries())
    for (const c of [0, 1, 2]) expect(light[c]).toBeCloseTo(frames[i].light![c], 9)
})

test('a camera whose colour drifts slowly is followed', () => {
  const frames = Array.from({ length: 60 }, (_, i) => lit(0, [0.002 * i, 0, -0.001 * i]))
  for (const [i, light] of steadyExposure(frames).entries())
    for (const c of [0, 1, 2]) expect(Math.abs(light[c] - frames[i].light![c])).toBeLessThan(0.005)
})

test('one pink frame stays within a few hundredths of a stop of the others', () => {
  const frames = Array.from({ length: 9 }, (_, i) => lit(0.01 * i, i === 4 ? [0.6, -0.3, 0.2] : [0.01, 0, 0]))
  const [r, g, b] = steadyExposure(frames)[4]
  expect(Math.abs(r - 0.05)).toBeLessThan(0.025)
  expect(Math.abs(g - 0.04)).toBeLessThan(0.025)
  expect(Math.abs(b - 0.04)).toBeLessThan(0.025)
})

test('of two plates each keeps its own colour', () => {
  const frames = Array.from({ length: 10 }, (_, i) =>
    lit(0, i < 5 ? [0, 0, 0] : [0.3, 0, -0.2], i < 5 ? 0 : 1),
  )
  const light = steadyExposure(frames)
  expect(light[2]).toEqual([0, 0, 0])
  expect(light[7]).toEqual([0.3, 0, -0.2])
})

test('a donor of another time keeps the colour that the camera had then', () => {
  const frames = Array.from({ length: 12 }, (_, i) =>
    i < 8 ? lit(0, [0, 0, 0], 0, 1001 + i) : lit(0, [0.1, 0, -0.25], 0, 1101 + i),
  )
  const light = steadyExposure(frames)
  expect(light[7]).toEqual([0, 0, 0])
  expect(light[8]).toEqual([0.1, 0, -0.25])
})

test('a frame of which nothing is seen lies between those beside it, and nothing at all is no change', () => {
  const blind: MeasuredLight = { plate: 0, donor: 1001, stops: null, light: null }
  const light = steadyExposure([lit(0.1), blind, blind, lit(0.4), blind])
  expect(light[1][1]).toBeCloseTo(0.2, 9)
  expect(light[2][0]).toBeCloseTo(0.3, 9)
  expect(light[4][2]).toBeCloseTo(0.4, 9)
  expect(steadyExposure([blind])).toEqual([[0, 0, 0]])
})

test('no frame gets a colour that lies beyond what was measured on any', () => {
  const stop = fc.double({ min: -2, max: 2, noNaN: true })
  fc.assert(
    fc.property(fc.array(fc.tuple(stop, stop, stop, stop), { minLength: 1, maxLength: 40 }), (rows) => {
      const frames = rows.map(([s, r, g, b]) => lit(s, [r, g, b]))
      for (const [i, light] of steadyExposure(frames).entries())
        for (const c of [0, 1, 2]) {
          const apart = light[c] - rows[i][0]
          expect(apart).toBeLessThanOrEqual(Math.max(...rows.map((row) => row[c + 1])) + 1e-9)
          expect(apart).toBeGreaterThanOrEqual(Math.min(...rows.map((row) => row[c + 1])) - 1e-9)
        }
    }),
    { seed: 16 },
  )
})
