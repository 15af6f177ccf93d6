// Where a borrow lands. Truth: planted boxes, and the sign rule of the 2D offset (x to the right, y down, onto the region).
import { expect, test } from 'vitest'
import { ghostOf } from '../../../src/desk/page/placing.js'
import { type Asked, newShot, type Point, type Shape } from '../../../src/desk/shot-state.js'

function box(x: number, y: number, w: number, h: number): Shape {
  const points: Point[] = [
    [x, y],
    [x + w, y + h],
  ]
  return { id: `${x}`, kind: 'box', cut: false, keys: [{ frame: 1043, points }] }
}

const ASKED: Asked = {
  ...newShot('quay', '/plates/quay', 1043).asked,
  aim: 'borrow',
  region: { shapes: [box(100, 200, 40, 20)], file: null },
  lookIn: { shapes: [box(10, 20, 60, 10)], file: null },
}

test('without an offset the surface lies middle on middle', () => {
  const ghost = ghostOf(ASKED, 1043)!
  expect(ghost.middle).toEqual([120, 210])
  expect(ghost.offset).toEqual([80, 185])
})

test('an offset moves the surface to the right and down', () => {
  const ghost = ghostOf({ ...ASKED, offset: [7, -3] }, 1043)!
  expect(ghost.shapes[0].points).toEqual([
    [17, 17],
    [77, 27],
  ])
})

test('without another surface, or without a region, nothing is to be placed', () => {
  expect(ghostOf({ ...ASKED, lookIn: { shapes: [], file: null } }, 1043)).toBeNull()
  expect(ghostOf({ ...ASKED, region: { shapes: [], file: '/masks/wall.svg' } }, 1043)).toBeNull()
})
