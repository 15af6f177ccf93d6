// What grain alone makes two donors' pictures differ by. By hand: the mean of nine pixels of white grain has a ninth of its variance, and
// two independent pictures differ by twice that. Grain that was averaged over 7 x 7 correlates by (1 - |u| / 7) (1 - |v| / 7), so
// that the mean of nine has ((3 + 4 x 6/7 + 2 x 5/7) / 9)^2 = 0.762 of it.
import { describe, expect, test } from 'vitest'
import { grainApart } from '../../../src/search/hide/grain-apart.js'
import { normal } from '../../synthetic.js'

const [WIDTH, HEIGHT] = [160, 120]

/** Means over (2 r + 1)^2 pixels, straight. */
function averaged(of: Float32Array, r: number): Float32Array {
  return of.map((_, i) => {
    let [sum, n] = [0, 0]
    for (let v = -r; v <= r; v++)
      for (let u = -r; u <= r; u++) {
        const [x, y] = [(i % WIDTH) + u, Math.floor(i / WIDTH) + v]
        if (x < 0 || y < 0 || x >= WIDTH || y >= HEIGHT) continue
        sum += of[y * WIDTH + x]
        n++
      }
    return sum / n
  })
}

/** A donor's picture: grain of 1, averaged over a square first that a codec may have made of it, then over nine pixels. */
function picture(seed: number, r = 0, beside: (x: number, y: number) => number = () => 0): Float32Array {
  const grain = normal(seed)
  const white = Float32Array.from({ length: WIDTH * HEIGHT }, () => grain() * (2 * r + 1))
  const soft = r === 0 ? white : averaged(white, r)
  return averaged(
    soft.map((v, i) => v + beside(i % WIDTH, Math.floor(i / WIDTH))),
    1,
  )
}

const nobody = () => new Uint8Array(WIDTH * HEIGHT)
const apart = (...pictures: Float32Array[]) => grainApart(pictures, pictures.map(nobody), WIDTH)

describe('the variance of the difference of two donors', () => {
  test('is two ninths of white grain', () => {
    expect(Math.abs(apart(picture(1), picture(2), picture(3)) / (2 / 9) - 1)).toBeLessThan(0.05)
  })

  test('is 1.52 of grain that hangs together over seven pixels', () => {
    expect(Math.abs(apart(picture(1, 3), picture(2, 3), picture(3, 3)) / 1.524 - 1)).toBeLessThan(0.15)
  })

  test('has no part of light that differs, evenly or by a slope', () => {
    const lit = picture(2, 0, (x, y) => 4 + 0.05 * x - 0.02 * y)
    expect(Math.abs(apart(picture(1), lit) / (2 / 9) - 1)).toBeLessThan(0.1)
  })

  test('is no more than grain can come to, whatever else differs everywhere', () => {
    expect(
      apart(
        picture(1),
        picture(2, 0, (x, y) => 9 * Math.sin(x * y)),
      ),
    ).toBe(2)
  })

  test('leaves out whoever stands there', () => {
    const coat = (x: number, y: number) => (x > 40 && x < 100 && y > 20 ? 30 * Math.sin(0.9 * x) : 0)
    const dirty = nobody().map((_, i) => (coat(i % WIDTH, Math.floor(i / WIDTH)) === 0 ? 0 : 1))
    const found = grainApart([picture(1), picture(2, 0, coat)], [nobody(), dirty], WIDTH)
    expect(Math.abs(found / (2 / 9) - 1)).toBeLessThan(0.2)
  })

  test('is white grain’s where a region is too small to tell', () => {
    const small = [new Float32Array(60), new Float32Array(60)]
    expect(grainApart(small, [new Uint8Array(60), new Uint8Array(60)], 10)).toBeCloseTo(2 / 9, 12)
  })
})
