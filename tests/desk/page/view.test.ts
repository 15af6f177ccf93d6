// How the plate lies in its room. Truth: laws of moving and scaling.
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { centred, fitted, pushed, seen, toPlate, toRoom, zoomedAt } from '../../../src/desk/page/view.js'

const ROOM = { w: 900, h: 500 }
const WIDE = { width: 2048, height: 858, aspect: 2 }
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true })
const view = fc.record({ scale: number(0.05, 20), left: number(-500, 500), top: number(-500, 500) })

test('a fitted plate touches two opposite edges of its room and leaves none, squeezed pixels drawn wide', () => {
  const { scale, left, top } = fitted(ROOM, WIDE)
  expect(left).toBeCloseTo(0)
  expect(WIDE.width * WIDE.aspect * scale).toBeCloseTo(ROOM.w)
  expect(top).toBeCloseTo((ROOM.h - WIDE.height * scale) / 2)
})

test('from the plate to the room and back is where it was', () => {
  fc.assert(
    fc.property(view, number(-3000, 3000), number(-3000, 3000), (v, x, y) => {
      const [px, py] = toPlate(v, 2, toRoom(v, 2, [x, y]))
      expect(px).toBeCloseTo(x, 5)
      expect(py).toBeCloseTo(y, 5)
    }),
  )
})

test('what lies under the pointer stays there while the wheel turns', () => {
  fc.assert(
    fc.property(view, number(0.5, 2), number(0, 900), number(0, 500), (v, factor, x, y) => {
      const before = toPlate(v, 1, [x, y])
      const after = toPlate(zoomedAt(v, factor, [x, y]), 1, [x, y])
      expect(after[0]).toBeCloseTo(before[0], 5)
      expect(after[1]).toBeCloseTo(before[1], 5)
    }),
  )
})

test('however far it is pushed, some of the plate stays in the room', () => {
  fc.assert(
    fc.property(view, number(-1e5, 1e5), number(-1e5, 1e5), (v, dx, dy) => {
      expect(
        seen(pushed(v, ROOM, { width: 768, height: 576, aspect: 1 }, dx, dy), ROOM, {
          width: 768,
          height: 576,
          aspect: 1,
        }),
      ).not.toBeNull()
    }),
  )
})

test('one to one the middle of the plate is seen, as many whole pixels as the room has', () => {
  const [x, y, w, h] = seen(centred(ROOM, { width: 4096, height: 2160, aspect: 1 }, 1), ROOM, {
    width: 4096,
    height: 2160,
    aspect: 1,
  })!
  expect([x, y, w, h]).toEqual([(4096 - 900) / 2, (2160 - 500) / 2, 900, 500])
})

test('of a plate beside the room nothing is seen', () => {
  expect(seen({ scale: 1, left: 2000, top: 0 }, ROOM, WIDE)).toBeNull()
})
