import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { contains, grow, intersect, isEmpty, type Rect, unite } from '../../src/raster/rect.js'

const side = fc.integer({ min: 1, max: 30 })
const place = fc.integer({ min: -30, max: 30 })
const rects: fc.Arbitrary<Rect> = fc.record({ x: place, y: place, w: side, h: side })

function holds(rect: Rect, x: number, y: number): boolean {
  return x >= rect.x && x < rect.x + rect.w && y >= rect.y && y < rect.y + rect.h
}

describe('rectangles of the plate', () => {
  test('the intersection holds exactly the pixels that both hold', () => {
    fc.assert(
      fc.property(rects, rects, place, place, (a, b, x, y) => {
        expect(holds(intersect(a, b), x, y)).toBe(holds(a, x, y) && holds(b, x, y))
      }),
      { seed: 3, numRuns: 500 },
    )
  })

  test('the union holds both, and no smaller rectangle does', () => {
    fc.assert(
      fc.property(rects, rects, (a, b) => {
        const both = unite(a, b)
        expect(contains(both, a) && contains(both, b)).toBe(true)
        expect(both.w).toBe(Math.max(a.x + a.w, b.x + b.w) - Math.min(a.x, b.x))
        expect(both.h).toBe(Math.max(a.y + a.h, b.y + b.h) - Math.min(a.y, b.y))
      }),
      { seed: 4 },
    )
  })

  test('an empty rectangle adds nothing to a union, from either side', () => {
    const empty = { x: 0, y: 0, w: 0, h: 0 }
    const box = { x: 5, y: 6, w: 7, h: 8 }
    expect(unite(empty, box)).toEqual(box)
    expect(unite(box, empty)).toEqual(box)
  })

  test('growing by a margin and by its negative ends where it began', () => {
    fc.assert(
      fc.property(rects, fc.integer({ min: 0, max: 20 }), (rect, margin) => {
        expect(contains(grow(rect, margin), rect)).toBe(true)
        expect(grow(grow(rect, margin), -margin)).toEqual(rect)
      }),
      { seed: 5 },
    )
  })

  test('rectangles that only touch share nothing', () => {
    expect(isEmpty(intersect({ x: 0, y: 0, w: 4, h: 4 }, { x: 4, y: 0, w: 4, h: 4 }))).toBe(true)
    expect(isEmpty({ x: 0, y: 0, w: 1, h: 1 })).toBe(false)
  })
})
