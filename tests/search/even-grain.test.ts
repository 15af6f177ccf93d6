// Soft grain is white noise under a small blur (film and its scan, footage that was enlarged); its power is the same in all places
// and, for blocks larger than the blur, of all sizes, as a sum of independent samples has it. Planted truth.
import { describe, expect, test } from 'vitest'
import { EvenGrain } from '../../src/search/even-grain.js'
import { normal, texturedWall } from '../synthetic.js'

const [W, H] = [120, 96]
const PAIRS = 12

type Picture = (frame: number) => Float32Array

function share(picture: Picture, { holes = false } = {}): number {
  const even = new EvenGrain(W, H)
  for (let pair = 0; pair < PAIRS; pair++) {
    const [a, b] = [picture(2 * pair), picture(2 * pair + 1)]
    const isHole = (i: number) => holes && i % W > 40 && i % W < 70 && i > 30 * W
    even.add(
      b.map((v, i) => (isHole(i) ? Number.NaN : v - a[i])),
      a,
    )
  }
  return even.share()
}

/** @param radius of the blur, pixels; the noise has the size of `sigma` afterwards */
function grain(frame: number, radius: number, sigma: (i: number) => number): Float32Array {
  const next = normal(1000 + frame)
  const white = Float32Array.from({ length: W * H }, () => next())
  const side = 2 * radius + 1
  const at = (x: number, y: number) => white[((y + H) % H) * W + ((x + W) % W)]
  return white.map((_, i) => {
    let sum = 0
    for (let v = -radius; v <= radius; v++)
      for (let u = -radius; u <= radius; u++) sum += at((i % W) + u, Math.floor(i / W) + v)
    return (sigma(i) * sum) / side
  })
}

/** A wall that gets darker to the right, four stops in all. */
const level = (i: number) => -(4 * (i % W)) / W
const wall = (frame: number, radius: number, sigma: (i: number) => number) =>
  grain(frame, radius, sigma).map((v, i) => level(i) + v)

describe('of what changes from frame to frame soft grain is', () => {
  test.each([0, 1])('most on a wall that stands still, blurred over %i pixels to either side', (radius) => {
    expect(share((frame) => wall(frame, radius, () => 0.05))).toBeGreaterThan(0.7)
  })

  test('most where it is eight times as strong in the dark', () => {
    expect(share((frame) => wall(frame, 1, (i) => 0.02 * 2 ** (-0.75 * level(i))))).toBeGreaterThan(0.65)
  })

  test('most round a region that is not looked at', () => {
    expect(share((frame) => wall(frame, 1, () => 0.05), { holes: true })).toBeGreaterThan(0.7)
  })

  test('nothing where a fifth of the wall is leaves that flutter', () => {
    const still = grain(7000, 1, () => 0.5)
    const flutter = (frame: number, i: number) => (frame % 2 === 0 ? still[i] : still[i + 1])
    expect(
      share((frame) =>
        wall(frame, 1, () => 0.05).map((v, i) => (i % W < W / 5 ? level(i) + flutter(frame, i) : v)),
      ),
    ).toBe(0)
  })

  test('nothing on water, which is as lively everywhere and moves in larger pieces', () => {
    expect(
      share((frame) =>
        Float32Array.from({ length: W * H }, (_, i) => texturedWall(100 + frame)(i % W, Math.floor(i / W))),
      ),
    ).toBe(0)
  })

  test('nothing where a lamp flickers in bands', () => {
    const band = (frame: number, i: number) => 0.15 * Math.sin(frame * 2.1 + Math.floor(i / W) / 9)
    expect(share((frame) => wall(frame, 1, () => 0.05).map((v, i) => v + band(frame, i)))).toBe(0)
  })

  test('nothing where too little is seen to tell', () => {
    const even = new EvenGrain(W, H)
    even.add(new Float32Array(W * H).fill(Number.NaN), new Float32Array(W * H))
    expect(even.share()).toBe(0)
    expect(new EvenGrain(8, 8).share()).toBe(0)
  })
})
