// The truth that tests plant is moved by what is tested here on pictures that need no resampling to tell.
import { expect, test } from 'vitest'
import { randomFrom } from './random.js'
import { moved, picture, warped } from './resample.js'

const RECT = { left: 12, top: 9, width: 20, height: 16 }

function noise() {
  const random = randomFrom('resample')
  const source = picture(48, 40)
  for (let i = 0; i < source.data.length; i++) source.data[i] = random()
  return source
}

test.each(['bicubic', 'lanczos'] as const)('%s by the matrix of a shift is the shift', (filter) => {
  const source = noise()
  for (const [dx, dy] of [
    [0, 0],
    [3, -2],
    [0.25, -1.5],
  ]) {
    // A matrix that differs by a factor is the same one, but not seen to be a shift.
    const a = warped(source, RECT, [2, 0, 2 * dx, 0, 2, 2 * dy, 0, 0, 2], filter)
    const b = moved(source, RECT, dx, dy, filter)
    for (let i = 0; i < a.data.length; i++) expect(a.data[i]).toBeCloseTo(b.data[i], 6)
  }
})

test('a quarter turn puts every pixel in its place', () => {
  const source = noise()
  // (x, y) goes to (39 - y, x): of a 48 x 40 picture one of 40 x 48.
  const out = warped(
    source,
    { left: 5, top: 5, width: 30, height: 30 },
    [0, -1, 39, 1, 0, 0, 0, 0, 1],
    'bicubic',
  )
  for (let y = 0; y < 30; y++) {
    for (let x = 0; x < 30; x++)
      expect(out.data[3 * (30 * y + x)]).toBeCloseTo(source.data[3 * (48 * (39 - x - 5) + y + 5)], 6)
  }
})

test('shown at half its size, stripes that no longer fit are even grey', () => {
  const source = picture(80, 80)
  for (let i = 0; i < source.data.length; i++) source.data[i] = Math.floor(i / 3) % 2
  const half = { left: 10, top: 10, width: 16, height: 16 }
  const out = warped(source, half, [0.5, 0, 0.25, 0, 0.5, 0, 0, 0, 1], 'lanczos')
  for (const v of out.data) expect(Math.abs(v - 0.5)).toBeLessThan(0.03)
})

test('what reaches outside the source is refused', () => {
  const source = picture(20, 20)
  const rect = { left: 0, top: 0, width: 4, height: 4 }
  expect(() => warped(source, rect, [2, 0, 1, 0, 2, 0, 0, 0, 2], 'bicubic')).toThrow(
    /outside the 20 x 20 source/,
  )
})

test('white noise moved by half a pixel both ways keeps nine tenths of its strength under eight lobes, two thirds at most under bicubic', () => {
  const source = noise()
  const spread = (data: Float32Array) => {
    const mean = data.reduce((sum, v) => sum + v, 0) / data.length
    return Math.sqrt(data.reduce((sum, v) => sum + (v - mean) ** 2, 0) / data.length)
  }
  const left = (filter: 'bicubic' | 'lanczos8') =>
    spread(moved(source, RECT, 0.5, 0.5, filter).data) / spread(moved(source, RECT, 0, 0, filter).data)
  expect(left('lanczos8')).toBeGreaterThan(0.87)
  expect(left('lanczos8')).toBeLessThan(1)
  expect(left('bicubic')).toBeLessThan(0.68)
})
