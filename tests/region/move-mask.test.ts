// Planted shapes, moved by transforms that are known: a mask that rides along covers what it covered.
import { describe, expect, test } from 'vitest'
import { apply, compose, IDENTITY, invert, shift, type Transform } from '../../src/raster/transform.js'
import type { Mask } from '../../src/region/mask.js'
import { moveMask } from '../../src/region/move-mask.js'

const FULL = { x: 0, y: 0, w: 200, h: 120 }
const MASK: Mask = {
  rect: { x: 60, y: 40, w: 6, h: 3 },
  data: Float32Array.of(0.25, 1, 1, 1, 1, 0.5, 1, 1, 0, 1, 1, 1, 0, 1, 1, 1, 1, 0.125),
}

/** Weight of a disk's pixels, as its edge cuts them, by so many places in each. */
function disk(x: number, y: number, radius: number): Mask {
  const reach = Math.ceil(radius) + 1
  const rect = { x: Math.floor(x) - reach, y: Math.floor(y) - reach, w: 2 * reach + 2, h: 2 * reach + 2 }
  const data = Float32Array.from({ length: rect.w * rect.h }, (_, i) => {
    let inside = 0
    for (let v = -0.4375; v < 0.5; v += 0.125)
      for (let u = -0.4375; u < 0.5; u += 0.125) {
        const [px, py] = [rect.x + (i % rect.w) + u, rect.y + Math.floor(i / rect.w) + v]
        if (Math.hypot(px - x, py - y) < radius) inside++
      }
    return inside / 64
  })
  return { rect, data }
}

function weightAt({ rect, data }: Mask, x: number, y: number): number {
  const inside = x >= rect.x && y >= rect.y && x < rect.x + rect.w && y < rect.y + rect.h
  return inside ? data[(y - rect.y) * rect.w + x - rect.x] : 0
}

describe('by whole pixels', () => {
  test('every weight lies so much further on, and is the same to the last bit', () => {
    expect(moveMask(MASK, shift(7, -9), FULL)).toEqual({
      rect: { x: 67, y: 31, w: 6, h: 3 },
      data: MASK.data,
    })
    expect(moveMask(MASK, IDENTITY, FULL)).toEqual(MASK)
  })

  test('what leaves the frame is cut off', () => {
    const { rect, data } = moveMask(MASK, shift(-62, 78), FULL)
    expect(rect).toEqual({ x: 0, y: 118, w: 4, h: 2 })
    expect([...data]).toEqual([1, 1, 1, 0.5, 0, 1, 1, 1])
    expect(moveMask(MASK, shift(300, 0), FULL).rect).toMatchObject({ w: 0, h: 0 })
  })
})

const TRANSFORMS: [what: string, Transform][] = [
  ['moved by a part of a pixel', shift(3.3, -2.6)],
  [
    'turned and nearer',
    compose(shift(90, 60), compose([1.2, -0.4, 0, 0.4, 1.2, 0, 0, 0, 1], shift(-70, -50))),
  ],
  [
    'less than half as large',
    compose(shift(90, 60), compose([0.4, 0, 0, 0, 0.4, 0, 0, 0, 1], shift(-70, -50))),
  ],
]

test.each(TRANSFORMS)('a disk %s is the disk drawn there', (_, t) => {
  const middle = apply(t, 70, 50)
  const size = Math.hypot(t[0], t[3])
  const found = moveMask(disk(70, 50, 15), t, FULL)
  const wanted = disk(middle.x, middle.y, 15 * size)
  let off = 0
  for (let y = 0; y < FULL.h; y++)
    for (let x = 0; x < FULL.w; x++) {
      const difference = Math.abs(weightAt(found, x, y) - weightAt(wanted, x, y))
      // Straight lines between weights soften an edge by less than a pixel, of the larger of both pictures.
      expect(difference).toBeLessThan(0.5)
      off += difference
    }
  expect(off).toBeLessThan(0.3 * 2 * Math.PI * 15 * size)
  const sum = (mask: Mask) => mask.data.reduce((a, b) => a + b, 0)
  expect(sum(found) / sum(wanted)).toBeCloseTo(1, 2)
})

test('a mask that is cut by the frame under a turn ends at the frame', () => {
  const t = compose(shift(-65, 0), [0.98, 0.05, 0, -0.05, 0.98, 0, 0, 0, 1])
  const { rect } = moveMask(disk(70, 50, 15), t, FULL)
  expect(rect.x).toBe(0)
  expect(rect.w).toBeGreaterThan(10)
})

test('there and back a mask covers what it covered, and weights stay from 0 to 1', () => {
  const t: Transform = [1.03, 0.04, -2.6, -0.03, 0.98, 1.3, 2e-4, -3e-4, 1]
  const drawn = disk(70, 50, 15)
  const back = moveMask(moveMask(drawn, t, FULL), invert(t), FULL)
  for (const w of back.data) expect(w >= 0 && w <= 1).toBe(true)
  for (let y = 30; y < 70; y++)
    for (let x = 50; x < 90; x++) {
      const away = Math.hypot(x - 70, y - 50)
      if (away < 12.5) expect(weightAt(back, x, y)).toBe(1)
      if (away > 18.5) expect(weightAt(back, x, y)).toBe(0)
    }
})
