// Shapes over frames, and the masks that they make. Truth: areas of squares, circles and strokes, known by geometry.
import sharp from 'sharp'
import { expect, test } from 'vitest'
import { maskSvg, moves, pointsAt } from '../../src/desk/shapes.js'
import type { Shape } from '../../src/desk/shot-state.js'

const box: Shape = {
  id: 'a',
  kind: 'box',
  cut: false,
  keys: [
    { frame: 1010, points: [[10, 20], [30, 40]] }, // biome-ignore format: a key a line
    {
      frame: 1020,
      points: [
        [20, 20],
        [40, 60],
      ],
    },
  ],
}

async function areaOf(shapes: readonly Shape[], frame = 1): Promise<number> {
  const { data } = await sharp(Buffer.from(maskSvg(shapes, frame, 200, 100)))
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true })
  return data.reduce((sum, v) => sum + v / 255, 0)
}

function still(kind: Shape['kind'], points: [number, number][], more: Partial<Shape> = {}): Shape {
  return { id: kind, kind, cut: false, keys: [{ frame: 1, points }], ...more }
}

test('a shape moves evenly between its keys and stands still outside them', () => {
  expect(pointsAt(box, 1015)).toEqual([
    [15, 20],
    [35, 50],
  ])
  expect(pointsAt(box, 1001)).toEqual(box.keys[0].points)
  expect(pointsAt(box, 1020)).toEqual(box.keys[1].points)
  expect(pointsAt(box, 1999)).toEqual(box.keys[1].points)
  expect(moves([box])).toBe(true)
  expect(moves([still('box', [[0, 0], [5, 5]])])).toBe(false) // biome-ignore format: two corners
})

test('the mask of a box, an ellipse, a polygon and a brush covers what geometry says', async () => {
  const corners: [number, number][] = [[20, 10], [60, 50]] // biome-ignore format: two corners
  expect(await areaOf([still('box', corners)])).toBeCloseTo(1600, 0)
  expect((await areaOf([still('ellipse', corners)])) / (Math.PI * 400)).toBeCloseTo(1, 2)
  const triangle: [number, number][] = [[20, 10], [60, 10], [20, 50]] // biome-ignore format: three corners
  expect((await areaOf([still('polygon', triangle)])) / 800).toBeCloseTo(1, 2)
  const stroke = still('brush', [[50, 50], [100, 50]], { widthPx: 20 }) // biome-ignore format: a course
  expect((await areaOf([stroke])) / (50 * 20 + Math.PI * 100)).toBeCloseTo(1, 2)
  expect((await areaOf([still('brush', [[50, 50]], { widthPx: 20 })])) / (Math.PI * 100)).toBeCloseTo(1, 2)
})

test('what is cut takes away what was drawn before it, and what is drawn later covers it again', async () => {
  const whole = still('box', [[0, 0], [100, 100]]) // biome-ignore format: two corners
  const half = still('box', [[0, 0], [50, 100]], { cut: true }) // biome-ignore format: two corners
  expect(await areaOf([whole, half])).toBeCloseTo(5000, 0)
  expect(await areaOf([half, whole])).toBeCloseTo(10000, 0)
})

test('corners may be drawn from any of them', async () => {
  const drawn = await areaOf([still('ellipse', [[60, 50], [20, 10]])]) // biome-ignore format: two corners
  expect(drawn / (Math.PI * 400)).toBeCloseTo(1, 2)
})
