import { describe, expect, test } from 'vitest'
import { halve, smooth } from '../../src/kernels/pyramid.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { plane } from '../../src/raster/plane.js'
import { normal } from '../synthetic.js'

const workspace = new Workspace()

describe('smoothing', () => {
  test.each([
    [1, 1],
    [1, 7],
    [2, 1],
    [3, 2],
    [9, 8],
  ])('a %i x %i picture equals the binomial sum with its edge repeated', (w, h) => {
    const source = plane(3, 5, w, h)
    const grain = normal(w * 100 + h)
    for (let i = 0; i < source.data.length; i++) source.data[i] = grain()
    const out = smooth(workspace, source)
    expect(out).toMatchObject({ x: 3, y: 5, width: w, height: h })
    const k = [1, 4, 6, 4, 1]
    for (let y = 0; y < h; y++) {
      for (let x = 0; x < w; x++) {
        let sum = 0
        for (let v = -2; v <= 2; v++) {
          for (let u = -2; u <= 2; u++) {
            const sx = Math.min(w - 1, Math.max(0, x + u))
            const sy = Math.min(h - 1, Math.max(0, y + v))
            sum += (k[u + 2] * k[v + 2] * source.data[sy * w + sx]) / 256
          }
        }
        expect(out.data[y * w + x]).toBeCloseTo(sum, 5)
      }
    }
  })
})

describe('halving', () => {
  test('each pixel is the mean of four, an odd last row and column are left out', () => {
    const source = plane(4, 6, 5, 3)
    source.data.set([1, 3, 0, 0, 99, 5, 7, 8, 0, 99, 99, 99, 99, 99, 99])
    const out = halve(workspace, source)
    expect(out).toMatchObject({ x: 2, y: 3, width: 2, height: 1 })
    expect([...out.data]).toEqual([4, 2])
  })

  test('a picture one pixel wide has nothing left', () => {
    expect(halve(workspace, plane(0, 0, 1, 9)).data.length).toBe(0)
  })
})
