// What differs round a mask is named with its edge and its kind. Planted truth: differences are drawn on the border.
import { expect, test } from 'vitest'
import { makeRegion } from '../../../src/region/region.js'
import { type Border, borderOf } from '../../../src/search/hide/beside-mask.js'
import { borderDifference, lightStep } from '../../../src/search/hide/border-difference.js'
import { SIDES } from '../../../src/search/mask-edges.js'
import { normal } from '../../synthetic.js'

const WIDTH = 120
const HEIGHT = 90
const RING = 20
const GRAIN = 0.01
const box = { x: 36, y: 30, w: 44, h: 32 }

const boxMask = Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) => {
  const [x, y] = [i % WIDTH, Math.floor(i / WIDTH)]
  return x >= box.x && x < box.x + box.w && y >= box.y && y < box.y + box.h ? 1 : 0
})
const discMask = Uint8Array.from({ length: WIDTH * HEIGHT }, (_, i) =>
  Math.hypot((i % WIDTH) - 60, Math.floor(i / WIDTH) - 45) < 18 ? 1 : 0,
)

/** What is found of a difference in stops that hangs on the place, under grain. */
function found(at: (x: number, y: number) => number, mask = boxMask) {
  const border = borderOf(mask, WIDTH, RING)!
  const next = normal(5)
  const difference = Float32Array.from(border.pixels, (i) => {
    return at(i % WIDTH, Math.floor(i / WIDTH)) + GRAIN * next()
  })
  return borderDifference(border, difference, new Float32Array(difference.length).fill(GRAIN ** 2))
}

/** Neighbouring pixels that have nothing to do with each other, mean 0, deviation 1. */
const leaves = (x: number, y: number) => ((x * 7 + y * 13 + ((x * y) % 5)) % 2 === 0 ? 1 : -1)

test.each<[string, (x: number) => number, (y: number) => number]>([
  ['left', (x) => (x < box.x ? 1 : 0), () => 1],
  ['right', (x) => (x >= box.x + box.w ? 1 : 0), () => 1],
  ['upper', () => 1, (y) => (y < box.y ? 1 : 0)],
  ['lower', () => 1, (y) => (y >= box.y + box.h ? 1 : 0)],
])('a step of the light along the %s edge is told as that, with its size and sign', (side, across, down) => {
  for (const mask of [boxMask, discMask])
    for (const step of [0.12, -0.12]) {
      const seen = found((x, y) => step * across(x) * down(y), mask)
      expect(seen).toMatchObject({ what: 'light', sides: [side], corner: null })
      expect(Math.sign(seen!.stops)).toBe(Math.sign(step))
    }
  const seen = found((x, y) => 0.12 * across(x) * down(y))
  expect(seen!.stops).toBeGreaterThan(0.1)
  expect(seen!.stops).toBeLessThan(0.125)
})

test('leaves at a corner are a difference of detail there', () => {
  const seen = found((x, y) => (x > 68 && y > 54 ? 0.2 * leaves(x, y) : 0))
  expect(seen).toMatchObject({ what: 'detail', sides: ['right', 'lower'], corner: ['lower', 'right'] })
})

test('detail that differs everywhere differs all round', () => {
  expect(found((x, y) => 0.2 * leaves(x, y))).toMatchObject({ what: 'detail', sides: SIDES, corner: null })
})

test('detail along two edges that do not meet in what differs is told with both', () => {
  const seen = found((x, y) => (y < box.y || y >= box.y + box.h ? 0.2 * leaves(x, y) : 0))
  expect(seen).toMatchObject({ what: 'detail', sides: ['upper', 'lower'], corner: null })
})

test('what can not be compared has no say', () => {
  const border = borderOf(boxMask, WIDTH, RING)!
  const nothing = new Float32Array(border.pixels.length).fill(Number.NaN)
  expect(borderDifference(border, nothing, nothing)).toBeNull()
  const left = SIDES.indexOf('left')
  const some = nothing.map((_, k) => (border.side[k] === left ? Number.NaN : border.third[k] === 0 ? 0.1 : 0))
  const seen = borderDifference(border, some, new Float32Array(some.length))!
  expect(seen.sides).not.toContain('left')
})

test('a border is the region’s surround, each pixel with the mask’s nearest', () => {
  const covered = { x: box.x, y: box.y, w: box.w, h: box.h }
  const ring = makeRegion(
    new Map([[1, { rect: covered, data: new Float32Array(box.w * box.h).fill(1) }]]),
    { width: WIDTH, height: HEIGHT },
    RING,
  )
  const { window } = ring
  const inside = Uint8Array.from(ring.frames.get(1)!.inside)
  const { surround } = ring.frames.get(1)!
  const list = [...surround.keys()].filter((i) => surround[i] > 0)
  expect([...borderOf(inside, window.w, RING)!.pixels]).toEqual(list)
  for (const mask of [boxMask, discMask]) {
    const { pixels, nearest, near }: Border = borderOf(mask, WIDTH, RING)!
    const covered = [...mask.keys()].filter((i) => mask[i] === 1)
    const away = (a: number, b: number) =>
      Math.hypot((a % WIDTH) - (b % WIDTH), Math.floor(a / WIDTH) - Math.floor(b / WIDTH))
    for (let k = 0; k < pixels.length; k += 7) {
      expect(mask[pixels[k]]).toBe(0)
      expect(mask[nearest[k]]).toBe(1)
      const far = Math.min(...covered.map((i) => away(pixels[k], i)))
      expect(away(pixels[k], nearest[k])).toBeCloseTo(far, 9)
      expect(near[k]).toBeGreaterThan(0)
      expect(near[k]).toBeLessThan(1)
    }
  }
  expect(borderOf(new Uint8Array(boxMask.length), WIDTH, RING)).toBeNull()
})

/** A step that nothing else is known of, in stops that hang on the place, under grain. */
function step(at: (x: number, y: number) => number, steady = 0) {
  const border = borderOf(boxMask, WIDTH, RING)!
  const next = normal(6)
  const difference = Float32Array.from(border.pixels, (i) => {
    return at(i % WIDTH, Math.floor(i / WIDTH)) + GRAIN * next()
  })
  const variance = new Float32Array(difference.length).fill(GRAIN ** 2)
  return lightStep(border, difference, variance, new Uint8Array(difference.length).fill(steady))
}

test('an edge in another light steps by what it is, and so does the one beside it', () => {
  const left = step((x) => (x < box.x ? -0.5 : 0))!
  expect(left).toMatchObject({ what: 'light', sides: ['left'] })
  expect(left.stops).toBeCloseTo(-0.5, 2)
  const both = step((x, y) => (x >= box.x + box.w || y >= box.y + box.h ? 0.3 : 0))!
  expect(both.sides).toEqual(['right', 'lower'])
})

test.each<[string, (x: number, y: number) => number, number?]>([
  ['part of an edge', (x, y) => (x < box.x && y < box.y + box.h / 2 ? 0.5 : 0)],
  [
    'what has folds and no two parts alike',
    (x, y) => (x < box.x ? 0.3 + 0.3 * Math.sin(0.9 * x + 0.7 * y) : 0),
  ],
  ['what lies further from the mask', (x) => (x < box.x - 12 ? 0.5 : 0)],
  ['what no eye sees', (x) => (x < box.x ? 0.05 : 0)],
  ['what a seam tells of', (x) => (x < box.x ? 0.5 : 0), 1],
])('%s is no step of the light', (_, at, steady) => {
  expect(step(at, steady)).toBeNull()
})
