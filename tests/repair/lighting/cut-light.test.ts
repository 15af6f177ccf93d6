// Where what is lifted ends at the mask's edge with a step: planted shadows in a mask of 60 x 40 within 80 x 60 pixels.
import { describe, expect, test } from 'vitest'
import { frame } from '../../../src/raster/frame.js'
import { cutLightWarnings } from '../../../src/repair/hand-over/cut-warnings.js'
import { cutLight } from '../../../src/repair/lighting/cut-light.js'
import type { Side } from '../../../src/search/mask-edges.js'
import { normal, randomFrom } from '../../random.js'

const [W, H] = [80, 60]
const BOX = { x: 10, y: 10, w: 60, h: 40 }

function lifted(stops: (x: number, y: number) => number, box = BOX) {
  const isIn = (x: number, y: number) => x >= box.x && y >= box.y && x < box.x + box.w && y < box.y + box.h
  const ratio = frame(H, W, 3)
  const mask = new Float32Array(W * H)
  for (let y = 0, i = 0; y < H; y++)
    for (let x = 0; x < W; x++, i++) {
      mask[i] = isIn(x, y) ? 1 : 0
      ratio.data.fill(isIn(x, y) ? 2 ** stops(x, y) : 1, 3 * i, 3 * i + 3)
    }
  return cutLight({ rect: { x: 300, y: 200, w: W, h: H }, ratio, mask })
}
/** A soft shadow of 0.6 stops. */
const shadow = (cx: number, cy: number, radius: number) => (x: number, y: number) =>
  -0.6 * Math.exp(-0.5 * (((x - cx) / radius) ** 2 + ((y - cy) / radius) ** 2))

describe('a lift', () => {
  test('that ends within the mask is not cut', () => {
    expect(lifted(shadow(40, 30, 7))).toEqual(new Map())
  })

  test('that comes in from the left is cut there, by what it has there, and nowhere else', () => {
    const cut = lifted(shadow(12, 30, 6))
    expect([...cut.keys()]).toEqual(['left'])
    expect(cut.get('left')).toBeGreaterThan(0.45)
    expect(cut.get('left')).toBeLessThan(0.6)
  })

  test('that makes brighter is cut as one that makes darker', () => {
    expect([...lifted((x, y) => -shadow(40, 48, 6)(x, y)).keys()]).toEqual(['lower'])
  })

  test('that covers all of the mask is cut on every side', () => {
    expect([...lifted(() => -0.3).keys()]).toEqual(['left', 'right', 'upper', 'lower'])
  })

  test('is not cut by the end of the plate, beyond which there is nothing to be lit', () => {
    expect([...lifted(() => -0.3, { x: 0, y: 10, w: 60, h: 50 }).keys()]).toEqual(['right', 'upper'])
  })

  test('of nothing but grain is not cut', () => {
    const random = randomFrom('grain')
    expect(lifted(() => 0.05 * normal(random))).toEqual(new Map())
  })
})

test('is told once, with its frames, its sides and the largest step', () => {
  expect(cutLightWarnings(new Map())).toEqual([])
  const cut = new Map<number, Map<Side, number>>([
    [1042, new Map([['lower', 0.2]])],
    [
      1041,
      new Map([
        ['left', 0.41],
        ['lower', 0.3],
      ]),
    ],
  ])
  expect(cutLightWarnings(cut)).toEqual([
    "on frames 1041-1042 the change of light runs on across the mask's left and lower edges and ends there, at up to 0.41 stops: search again with a larger mask, or that edge may show",
  ])
  expect(cutLightWarnings(new Map([[1042, new Map<Side, number>([['left', 0.2]])]]))[0]).toMatch(
    /^on frame 1042 the change of light runs on across the mask's left edge and/,
  )
  expect(cutLightWarnings(cut, 'object')[0]).toMatch(
    /^on frames 1041-1042 what covers the surface, which is no light, runs on across/,
  )
})
