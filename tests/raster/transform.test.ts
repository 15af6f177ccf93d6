// Laws of plane homographies, and the worked mapping of P. Heckbert, Fundamentals of Texture Mapping and Image Warping
// (1989), 2.2.3.
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import {
  apply,
  compose,
  hasInverse,
  IDENTITY,
  invert,
  isShift,
  isWhole,
  placementOf,
  shift,
  shiftOf,
  type Transform,
  transformOf,
} from '../../src/raster/transform.js'

const px = fc.double({ min: -4000, max: 4000, noNaN: true })
const small = (max: number) => fc.double({ min: -max, max, noNaN: true })
/** What a camera does between frames: a turn, a zoom, a tilt, a shift. Nothing of a 4K plate comes near its horizon. */
const transforms: fc.Arbitrary<Transform> = fc
  .record({ turn: small(0.5), zoom: small(0.3), tilt: small(5e-5), pan: small(5e-5), dx: px, dy: px })
  .map(({ turn, zoom, tilt, pan, dx, dy }) => {
    const c = (1 + zoom) * Math.cos(turn)
    const s = (1 + zoom) * Math.sin(turn)
    // Sums with 0: a negative zero is the same number, but no equal one to `expect`.
    return [c, 0 - s, dx + 0, s + 0, c, dy + 0, pan + 0, tilt + 0, 1]
  })
const RUNS = { seed: 4, numRuns: 300 }

function expectNear(found: { x: number; y: number }, wanted: { x: number; y: number }, px = 1e-6): void {
  expect(Math.hypot(found.x - wanted.x, found.y - wanted.y)).toBeLessThan(px)
}

describe('shifts', () => {
  test('a shift by (3, -2) takes a pixel three to the right and two up', () => {
    expect(apply(shift(3, -2), 4, 5)).toEqual({ x: 7, y: 3 })
  })

  test("the shift from a donor to a target is their offsets' difference to the last bit", () => {
    fc.assert(
      fc.property(px, px, px, px, (ax, ay, bx, by) => {
        const between = compose(invert(shift(ax, ay)), shift(bx, by))
        expect(isShift(between)).toBe(true)
        const { dx, dy } = shiftOf(between, { x: 0, y: 0, w: 10, h: 10 })
        expect(Object.is(dx, bx - ax) && Object.is(dy, by - ay)).toBe(true)
      }),
      {
        ...RUNS,
        examples: [
          [-0, 0, -0, 0],
          [0, 1e-300, -0, 1e-300],
        ],
      },
    )
  })

  test('by whole pixels are told from the rest', () => {
    expect(isWhole(shift(3, -2)) && isWhole(IDENTITY)).toBe(true)
    expect(isWhole(shift(3, 0.5)) || isWhole(shift(0.5, 3)) || isWhole([2, 0, 0, 0, 2, 0, 0, 0, 1])).toBe(
      false,
    )
  })

  test('only what moves all pixels alike is one', () => {
    expect([IDENTITY, shift(0.5, 3)].map(isShift)).toEqual([true, true])
    for (const place of [0, 1, 3, 4, 6, 7, 8]) {
      const other = shift(1, 2).map((v, i) => (i === place ? v + 1e-9 : v)) as unknown as Transform
      expect(isShift(other)).toBe(false)
    }
  })
})

describe('composing and inverting', () => {
  test('the inner transform is applied first', () => {
    fc.assert(
      fc.property(transforms, transforms, small(500), small(500), (outer, inner, x, y) => {
        const between = apply(inner, x, y)
        fc.pre(Math.hypot(between.x, between.y) < 9000)
        expectNear(apply(compose(outer, inner), x, y), apply(outer, between.x, between.y))
      }),
      RUNS,
    )
  })

  test('composing is associative, and the identity changes nothing', () => {
    fc.assert(
      fc.property(transforms, transforms, transforms, (a, b, c) => {
        const left = compose(compose(a, b), c)
        const right = compose(a, compose(b, c))
        const size = Math.max(...left.map(Math.abs))
        for (let i = 0; i < 9; i++) expect(Math.abs(left[i] - right[i])).toBeLessThan(1e-12 * size)
        expect(compose(a, IDENTITY)).toEqual(a)
        expect(compose(IDENTITY, a)).toEqual(a)
      }),
      RUNS,
    )
  })

  test('the inverse brings every pixel back', () => {
    fc.assert(
      fc.property(transforms, fc.nat(4096), fc.nat(2160), (t, x, y) => {
        const there = apply(t, x, y)
        const back = apply(invert(t), there.x, there.y)
        expectNear(back, { x, y })
      }),
      RUNS,
    )
  })

  test('a factor over the whole matrix changes nothing', () => {
    const t: Transform = [1.1, 0.07, -1.25, -0.05, 0.93, 1.5, 0.004, -0.006, 1]
    const scaled = t.map((v) => -7 * v) as unknown as Transform
    expectNear(apply(scaled, 12, 5), apply(t, 12, 5), 1e-12)
    expectNear(apply(invert(scaled), 12, 5), apply(invert(t), 12, 5), 1e-12)
  })

  test.each<[string, Transform]>([
    ['folds the picture onto a line', [1, 2, 0, 2, 4, 0, 0, 0, 1]],
    ['folds it up to rounding', [0.1, 0.3, 5, 0.3, 0.9, 7, 0, 0, 1]],
    ['is all zeros', [0, 0, 0, 0, 0, 0, 0, 0, 0]],
    ['holds no number', [1, 0, Number.NaN, 0, 2, 0, 0, 0, 1]],
  ])('a transform that %s has no inverse, and says which one', (_, t) => {
    expect(hasInverse(t)).toBe(false)
    expect(() => invert(t)).toThrow(
      expect.objectContaining({ name: 'RangeError', message: expect.stringContaining(`[${t.join(', ')}]`) }),
    )
  })
})

describe("Heckbert's quadrilaterals", () => {
  type Quad = readonly (readonly [number, number])[]
  const corners: Quad = [
    [0, 0],
    [1, 0],
    [1, 1],
    [0, 1],
  ]
  const screen: Quad = [
    [102, 88],
    [311, 64],
    [355, 259],
    [90, 240],
  ]
  const poster: Quad = [
    [12, 9],
    [52, 11],
    [50, 70],
    [8, 66],
  ]

  /** The unit square onto a quadrilateral, as the paper has it. */
  function squareTo([[x0, y0], [x1, y1], [x2, y2], [x3, y3]]: Quad): Transform {
    const [sx, sy] = [x0 - x1 + x2 - x3, y0 - y1 + y2 - y3]
    const [ax, ay, bx, by] = [x1 - x2, y1 - y2, x3 - x2, y3 - y2]
    const g = (sx * by - bx * sy) / (ax * by - bx * ay)
    const h = (ax * sy - sx * ay) / (ax * by - bx * ay)
    return [x1 - x0 + g * x1, x3 - x0 + h * x3, x0, y1 - y0 + g * y1, y3 - y0 + h * y3, y0, g, h, 1]
  }

  test('the unit square goes onto a quadrilateral corner by corner', () => {
    for (const [i, [u, v]] of corners.entries()) {
      const [x, y] = screen[i]
      expectNear(apply(squareTo(screen), u, v), { x, y }, 1e-9)
    }
  })

  test('one quadrilateral goes onto another by way of the square', () => {
    const t = compose(squareTo(screen), invert(squareTo(poster)))
    for (const [i, [u, v]] of poster.entries()) {
      const [x, y] = screen[i]
      expectNear(apply(t, u, v), { x, y }, 1e-9)
    }
  })
})

describe('the 2D offset over a rectangle', () => {
  test("of an affine transform is the mean of its pixels' offsets", () => {
    const t: Transform = [1.03, -0.02, 4.5, 0.025, 0.98, -3, 0, 0, 1]
    const rect = { x: 40, y: 25, w: 7, h: 4 }
    let [dx, dy] = [0, 0]
    for (let y = rect.y; y < rect.y + rect.h; y++)
      for (let x = rect.x; x < rect.x + rect.w; x++) {
        const from = apply(invert(t), x, y)
        dx += (x - from.x) / (rect.w * rect.h)
        dy += (y - from.y) / (rect.w * rect.h)
      }
    const found = shiftOf(t, rect)
    expect(found.dx).toBeCloseTo(dx, 10)
    expect(found.dy).toBeCloseTo(dy, 10)
  })

  test('of any transform follows the sign rule in the middle of it: target(x, y) is donor(x - dx, y - dy)', () => {
    fc.assert(
      fc.property(transforms, fc.nat(2000), fc.nat(1000), (t, x, y) => {
        const { dx, dy } = shiftOf(t, { x, y, w: 101, h: 51 })
        expectNear(apply(t, x + 50 - dx, y + 25 - dy), { x: x + 50, y: y + 25 })
      }),
      RUNS,
    )
  })
})

describe('a placement', () => {
  const rect = { x: 20, y: 10, w: 30, h: 20 }

  test('of a shift is its offset alone, and gives the shift back to the last bit', () => {
    const noted = placementOf(shift(0.1, -7), rect)
    expect(noted).toEqual({ dx: 0.1, dy: -7 })
    expect(transformOf(noted)).toEqual(shift(0.1, -7))
  })

  test('of any other transform keeps it, beside the offset at the middle of the region', () => {
    fc.assert(
      fc.property(transforms, (t) => {
        fc.pre(!isShift(t))
        const noted = placementOf(t, rect)
        expect(noted).toEqual({ ...shiftOf(t, rect), transform: t })
        expect(transformOf(noted)).toBe(t)
        expect(hasInverse(t)).toBe(true)
      }),
      RUNS,
    )
  })
})
