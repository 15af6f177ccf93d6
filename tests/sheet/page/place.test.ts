import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  cornerOf,
  type Extent,
  fitting,
  middleOf,
  within,
  ZOOMS,
  zoomedAbout,
  zoomStep,
} from '../../../src/sheet/page/viewer/place.js'

const extents = fc.record<Extent>({
  x: fc.integer({ min: 0, max: 4000 }),
  y: fc.integer({ min: 0, max: 4000 }),
  w: fc.integer({ min: 1, max: 4096 }),
  h: fc.integer({ min: 1, max: 2160 }),
})
const rooms = fc.record({ w: fc.integer({ min: 1, max: 3840 }), h: fc.integer({ min: 1, max: 2160 }) })
const ratios = fc.constantFrom(1, 1.25, 1.5, 2, 3)
const zooms = fc.constantFrom(...ZOOMS)
const share = fc.double({ min: 0, max: 1, noNaN: true })

describe('a picture in its room', () => {
  test('that fits lies within it, and fills it one way but for less than a pixel of the picture', () => {
    fc.assert(
      fc.property(extents, rooms, ratios, (extent, room, ratio) => {
        const fit = fitting(extent, room, ratio)
        const [w, h] = [extent.w * fit, extent.h * fit]
        expect(w).toBeLessThanOrEqual(room.w * ratio * (1 + 1e-9))
        expect(h).toBeLessThanOrEqual(room.h * ratio * (1 + 1e-9))
        const left = Math.min(room.w * ratio - w - extent.w, room.h * ratio - h - extent.h)
        expect(left).toBeLessThan(1e-6)
        if (fit >= 1) expect(Number.isInteger(fit)).toBe(true)
      }),
    )
  })

  test('stays where it is under the pointer when the zoom changes, to the rounding to screen pixels', () => {
    fc.assert(
      fc.property(
        extents,
        rooms,
        ratios,
        zooms,
        zooms,
        share,
        share,
        (extent, room, ratio, from, to, u, v) => {
          const before = { centre: middleOf(extent), scale: from / ratio, room, ratio }
          const at = cornerOf(extent, before)
          // The pointer is over some point of the picture ...
          const point = { x: u * extent.w, y: v * extent.h }
          const pointer = { x: at.x + point.x * before.scale, y: at.y + point.y * before.scale }
          const off = { x: pointer.x - room.w / 2, y: pointer.y - room.h / 2 }
          const centre = zoomedAbout(off, before.centre, { from: before.scale, to: to / ratio })
          const now = cornerOf(extent, { centre, scale: to / ratio, room, ratio })
          // ... and is over it still. A rounding before counts as many times as the zoom grows.
          const rounding = (1 + Math.max(1, to / from)) / ratio
          expect(Math.abs(now.x + (point.x * to) / ratio - pointer.x)).toBeLessThanOrEqual(rounding)
          expect(Math.abs(now.y + (point.y * to) / ratio - pointer.y)).toBeLessThanOrEqual(rounding)
        },
      ),
    )
  })

  test('zooming in towards a point of it never needs the middle to leave it', () => {
    fc.assert(
      fc.property(extents, share, share, share, share, (extent, u, v, s, t) => {
        const centre = { x: extent.x + u * extent.w, y: extent.y + v * extent.h }
        const pointer = { x: extent.x + s * extent.w - centre.x, y: extent.y + t * extent.h - centre.y }
        const next = zoomedAbout(pointer, centre, { from: 1, to: 3 })
        const kept = within(extent, next)
        expect(kept.x).toBeCloseTo(next.x, 6)
        expect(kept.y).toBeCloseTo(next.y, 6)
      }),
    )
  })

  test('can be pushed until its edge is in the middle and no further', () => {
    const extent = { x: 100, y: 50, w: 30, h: 20 }
    expect(within(extent, { x: 99, y: 71 })).toEqual({ x: 100, y: 70 })
    expect(within(extent, { x: 120, y: 60 })).toEqual({ x: 120, y: 60 })
  })

  test('steps closer from what is shown, also from a fit, and ends further out in the fit', () => {
    const out = (zoom: number, fit: number) => {
      const seen = [zoom]
      while (seen[seen.length - 1] !== 0) seen.push(zoomStep(seen[seen.length - 1], fit, -1))
      return seen
    }
    expect(zoomStep(0, 3, 1)).toBe(4)
    expect(zoomStep(0, 0.4, 1)).toBe(0.5)
    expect(zoomStep(16, 3, 1)).toBe(16)
    expect(out(8, 3)).toEqual([8, 6, 4, 0])
    expect(out(2, 0.4)).toEqual([2, 1, 0.5, 0])
    // Where even the smallest is larger than the fit, there is still a way out.
    expect(out(0.25, 0.01)).toEqual([0.25, 1 / 6, 1 / 8, 0])
  })
})
