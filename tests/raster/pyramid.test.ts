import { describe, expect, test } from 'vitest'
import { plane } from '../../src/raster/plane.js'
import { boxBlur } from '../../src/raster/pyramid.js'

describe('mean over a square', () => {
  test.each([
    [9, 7, 2],
    [3, 12, 4],
    [1, 1, 3],
  ])('of %i x %i pixels, radius %i, is the mean of what lies inside', (w, h, radius) => {
    const source = plane(4, 5, w, h)
    for (let i = 0; i < source.data.length; i++) source.data[i] = ((i * 37) % 11) - 4
    const out = boxBlur(source, radius)
    expect(out).toMatchObject({ x: 4, y: 5, width: w, height: h })
    for (let y = 0; y < h; y++) {
      for (let x = 0; x < w; x++) {
        let sum = 0
        let n = 0
        for (let v = Math.max(0, y - radius); v <= Math.min(h - 1, y + radius); v++) {
          for (let u = Math.max(0, x - radius); u <= Math.min(w - 1, x + radius); u++, n++)
            sum += source.data[v * w + u]
        }
        expect(out.data[y * w + x]).toBeCloseTo(sum / n, 5)
      }
    }
  })
})
