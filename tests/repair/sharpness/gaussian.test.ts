import { describe, expect, test } from 'vitest'
import { frame } from '../../../src/raster/frame.js'
import { blurred, gaussianTaps, TileBlur } from '../../../src/repair/sharpness/gaussian.js'
import { blurResponse } from '../../../src/repair/sharpness/match.js'
import { random } from '../../synthetic.js'

describe('a small Gaussian blur', () => {
  // Poisson: the transform of a sampled function is its own transform, repeated at every whole cycle.
  const closed = (sigma: number, f: number) => {
    const repeated = (at: number) => {
      let sum = 0
      for (let m = -4; m <= 4; m++) sum += Math.exp(-2 * Math.PI ** 2 * sigma ** 2 * (at - m) ** 2)
      return sum
    }
    return repeated(f) / repeated(0)
  }

  test.each([0.4, 0.7, 1.3])('of sigma %d passes of every wave what its closed form says', (sigma) => {
    const response = blurResponse(sigma)
    for (let v = 0; v < 16; v++)
      for (let u = 0; u < 16; u++)
        expect(response[16 * v + u]).toBeCloseTo((closed(sigma, u / 16) * closed(sigma, v / 16)) ** 2, 4)
  })

  test('is the plain sum over all taps, whose sum is 1 where a hole or the picture’s edge takes some away', () => {
    const [width, height] = [23, 17]
    const next = random(4)
    const picture = frame(height, width, 3)
    for (let i = 0; i < picture.data.length; i++) picture.data[i] = next()
    const there = Uint8Array.from({ length: width * height }, (_, i) => (i % 13 === 5 ? 0 : 1))
    for (let i = 0; i < there.length; i++) if (there[i] === 0) picture.data[3 * i] = Number.NaN
    const taps = gaussianTaps(0.9)
    const radius = taps.length >> 1
    const found = blurred(picture, there, 0.9)
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0; x < width; x++, i++) {
        let [sum, share] = [0, 0]
        for (let v = -radius; v <= radius; v++)
          for (let u = -radius; u <= radius; u++) {
            const [px, py] = [x + u, y + v]
            if (px < 0 || py < 0 || px >= width || py >= height || there[py * width + px] === 0) continue
            const tap = taps[u + radius] * taps[v + radius]
            sum += tap * picture.data[3 * (py * width + px)]
            share += tap
          }
        if (there[i] === 0) expect(found.data[3 * i]).toBeNaN()
        else expect(found.data[3 * i]).toBeCloseTo(sum / share, 5)
      }
  })

  test.each([0.5, 1.7])('of sigma %d is the same on a tile by itself, at edges and beside holes', (sigma) => {
    const [width, height, side] = [29, 26, 8]
    const next = random(7)
    const picture = frame(height, width, 3)
    for (let i = 0; i < picture.data.length; i++) picture.data[i] = next()
    const corners = [0, 9 * width + 10, (height - side) * width + width - side]
    const there = Uint8Array.from({ length: width * height }, (_, i) => (i % 7 === 3 ? 0 : 1))
    for (const corner of corners)
      for (let y = 0; y < side; y++) there.fill(1, corner + y * width, corner + y * width + side)
    for (let i = 0; i < there.length; i++) if (there[i] === 0) picture.data[3 * i + 1] = Number.NaN
    const whole = blurred(picture, there, sigma)
    const blur = new TileBlur(side, sigma)
    const tile = new Float64Array(side * side)
    for (const corner of corners) {
      blur.tile(picture, there, 1, corner, tile)
      for (let i = 0; i < tile.length; i++) {
        const at = corner + Math.floor(i / side) * width + (i % side)
        expect(tile[i]).toBe(whole.data[3 * at + 1])
      }
    }
  })
})
