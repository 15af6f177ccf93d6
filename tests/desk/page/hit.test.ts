// What lies under the pointer, and brushes with fewer points. Truth: planted shapes, and what sharp rasterises of the same SVG.
import fc from 'fast-check'
import sharp from 'sharp'
import { expect, test } from 'vitest'
import { distanceTo, hitAt, simplified } from '../../../src/desk/page/hit.js'
import { maskSvg } from '../../../src/desk/shapes.js'
import type { Point, Shape } from '../../../src/desk/shot-state.js'

function shape(id: string, kind: Shape['kind'], points: Point[], widthPx?: number): Shape {
  return { id, kind, cut: false, ...(widthPx ? { widthPx } : {}), keys: [{ frame: 1060, points }] }
}

const BOX = shape('box', 'box', [
  [10, 10],
  [50, 40],
])
const STAR = shape('star', 'polygon', [
  [32, 2],
  [52, 60],
  [2, 22],
  [62, 22],
  [12, 60],
])

const cases: readonly { title: string; shape: Shape }[] = [
  {
    title: 'a box, its corners given the other way round',
    shape: shape('b', 'box', [
      [50, 40],
      [10, 12],
    ]),
  },
  {
    title: 'an ellipse',
    shape: shape('e', 'ellipse', [
      [8, 12],
      [56, 44],
    ]),
  },
  { title: 'a star that crosses itself', shape: STAR },
  {
    title: 'a brush',
    shape: shape(
      'r',
      'brush',
      [
        [12, 12],
        [40, 20],
        [50, 50],
      ],
      14,
    ),
  },
]

test.each(cases)('$title is met wherever its mask is white', async ({ shape }) => {
  const { data } = await sharp(Buffer.from(maskSvg([shape], 1060, 64, 64)))
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true })
  let [white, black] = [0, 0]
  for (let y = 0; y < 64; y++) {
    for (let x = 0; x < 64; x++) {
      const ink = data[y * 64 + x]
      if (ink > 0 && ink < 255) continue
      const hit = hitAt([shape], 1060, null, [x + 0.5, y + 0.5], 0.1)
      expect(hit !== null).toBe(ink === 255)
      if (ink === 255) white++
      else black++
    }
  }
  expect(Math.min(white, black)).toBeGreaterThan(300)
})

test('the handles of the selected shape lie above a shape that covers them', () => {
  const over = shape('over', 'box', [
    [0, 0],
    [64, 64],
  ])
  expect(hitAt([BOX, over], 1060, 'box', [51, 41], 3)).toEqual({ shape: 'box', handle: 2 })
  expect(hitAt([BOX, over], 1060, null, [51, 41], 3)).toEqual({ shape: 'over', handle: null })
})

test('beside everything nothing is met', () => {
  expect(hitAt([BOX], 1060, 'box', [100, 100], 5)).toBeNull()
})

test('a simplified course keeps its ends, and no point of the old one lies further off than was allowed', () => {
  const coordinate = fc.double({ min: 0, max: 400, noNaN: true })
  const course = fc.array(fc.tuple(coordinate, coordinate), { minLength: 1, maxLength: 60 })
  fc.assert(
    fc.property(course, (points) => {
      const fewer = simplified(points, 2)
      expect(fewer[0]).toEqual(points[0])
      expect(fewer[fewer.length - 1]).toEqual(points[points.length - 1])
      for (const point of points) expect(distanceTo(fewer, point)).toBeLessThanOrEqual(2 + 1e-9)
    }),
  )
})

test('a straight course of a hundred points needs two', () => {
  const straight = Array.from({ length: 100 }, (_, i): Point => [i, 2 * i])
  expect(simplified(straight, 0.25)).toHaveLength(2)
})
