// Shapes taken hold of, moved, stretched and keyed. Truth: laws, and planted boxes.
import { expect, test } from 'vitest'
import {
  boxRound,
  covered,
  handlesOf,
  keyed,
  keyedFrames,
  movedBy,
  stretchedTo,
  unkeyed,
  withHandleAt,
  withPoints,
} from '../../../src/desk/page/handles.js'
import { pointsAt } from '../../../src/desk/shapes.js'
import type { Point, Shape } from '../../../src/desk/shot-state.js'

const POINTS: Point[] = [
  [10, 20],
  [40, 60],
]
const BOX: Shape = { id: 'a', kind: 'box', cut: false, keys: [{ frame: 1060, points: POINTS }] }

test.each([0, 1, 2, 3])('corner %i of a box is where it was taken to, the opposite one stays', (handle) => {
  const next = withHandleAt('box', POINTS, handle, [33, 7])
  expect(handlesOf('box', next)[handle]).toEqual([33, 7])
  const opposite = (handle + 2) % 4
  expect(handlesOf('box', next)[opposite]).toEqual(handlesOf('box', POINTS)[opposite])
})

test('a corner of a polygon moves alone', () => {
  const three: Point[] = [...POINTS, [0, 90]]
  expect(withHandleAt('polygon', three, 1, [1, 2])).toEqual([
    [10, 20],
    [1, 2],
    [0, 90],
  ])
})

test('moved and moved back is where it was, and what was given is untouched', () => {
  const before = structuredClone(POINTS)
  expect(movedBy(movedBy(POINTS, 3, -4), -3, 4)).toEqual(POINTS)
  expect(POINTS).toEqual(before)
})

test('stretched to a box it fills that box; a flat course stays flat', () => {
  expect(boxRound(stretchedTo([...POINTS, [25, 30]], [1, 2, 300, 4]))).toEqual([1, 2, 300, 4])
  expect(
    boxRound(
      stretchedTo(
        [
          [5, 5],
          [9, 5],
        ],
        [0, 0, 8, 70],
      ),
    ),
  ).toEqual([0, 0, 8, 0])
})

test('a shape with one key is moved on all frames, one with two has a key where it was moved', () => {
  const still = withPoints(BOX, 1075, movedBy(POINTS, 5, 0))
  expect(still.keys).toHaveLength(1)
  expect(pointsAt(still, 1001)).toEqual(movedBy(POINTS, 5, 0))
  const two = keyed(BOX, 1080, movedBy(POINTS, 20, 0))
  const three = withPoints(two, 1070, movedBy(POINTS, 0, 50))
  expect(three.keys.map(({ frame }) => frame)).toEqual([1060, 1070, 1080])
  expect(pointsAt(three, 1060)).toEqual(POINTS)
  expect(pointsAt(three, 1070)).toEqual(movedBy(POINTS, 0, 50))
})

test('a key that is set where a shape passes by changes nothing', () => {
  const two = keyed(BOX, 1080, movedBy(POINTS, 20, 10))
  const three = keyed(two, 1065)
  for (let frame = 1055; frame < 1085; frame++) {
    for (const [i, [x, y]] of pointsAt(three, frame).entries()) {
      expect(x).toBeCloseTo(pointsAt(two, frame)[i][0], 9)
      expect(y).toBeCloseTo(pointsAt(two, frame)[i][1], 9)
    }
  }
})

test('keys are taken away again, but never the last', () => {
  const two = keyed(BOX, 1080)
  expect(keyedFrames([two, keyed(BOX, 1062)])).toEqual([1060, 1062, 1080])
  expect(keyedFrames([BOX])).toEqual([])
  const one = unkeyed(two, 1060)
  expect(one.keys.map(({ frame }) => frame)).toEqual([1080])
  expect(unkeyed(one, 1080)).toEqual(one)
})

test('what is covered is as wide as the brush, and nothing where all is cut', () => {
  const brush: Shape = { ...BOX, kind: 'brush', widthPx: 10 }
  expect(covered([brush], 1060)).toEqual([5, 15, 40, 50])
  expect(covered([{ ...BOX, cut: true }], 1060)).toBeNull()
})
