import { describe, expect, test } from 'vitest'
import { fillHoles } from '../../../src/repair/lighting/occluders.js'

const WIDTH = 60
const HEIGHT = 50
const plane = (of: (x: number, y: number) => number) =>
  Float32Array.from({ length: WIDTH * HEIGHT }, (_, i) => of(i % WIDTH, Math.floor(i / WIDTH)))

describe('a hole in a ratio', () => {
  // 20 by 30 pixels, what somebody covers.
  const validity = plane((x, y) => (x >= 15 && x < 35 && y >= 10 && y < 40 ? 0 : 1))

  test.each([
    ['a slope goes on through it', (x: number, y: number) => -0.02 * x + 0.01 * y],
    // Solves Laplace's equation, so it is what the edge alone holds.
    ['so does a saddle', (x: number, y: number) => 0.001 * ((x - 25) ** 2 - (y - 25) ** 2)],
  ])('%s', (_, of) => {
    const truth = plane(of)
    const found = truth.map((v, i) => (validity[i] === 0 ? 9 : v))
    fillHoles([found], validity, WIDTH)
    for (const [i, v] of found.entries()) {
      if (validity[i] === 1) expect(v).toBe(truth[i])
      else expect(Math.abs(v - truth[i])).toBeLessThan(0.005)
    }
  })

  test('never goes beyond what lies round it', () => {
    const found = plane((x) => (x < 25 ? -0.8 : 0))
    fillHoles([found], validity, WIDTH)
    for (const v of found) {
      expect(v).toBeGreaterThan(-0.805)
      expect(v).toBeLessThan(0.005)
    }
  })

  test('is no change where nothing at all is seen', () => {
    const found = plane(() => Number.NaN)
    fillHoles([found], new Float32Array(found.length), WIDTH)
    expect(new Set(found)).toEqual(new Set([0]))
  })
})
