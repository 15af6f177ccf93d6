// How a picture lies on another one: a plane homography, which a camera that turns about its lens makes of all it sees.
// Points are (x, y, 1) as columns, pixel centres at whole numbers. R. Hartley, A. Zisserman, Multiple View Geometry in
// Computer Vision (2nd edition, 2003), section 2.3. The sign rule of the house: a transform takes a donor's pixel to its
// place on the target or the common grid, so of a shift by (dx, dy) target(x, y) is donor(x - dx, y - dy).
import type { Rect } from './rect.js'

/** 3 x 3, row by row; plain numbers, so that it can be sent and kept. Two that differ by a factor are the same. */
export type Transform = readonly [
  xx: number,
  xy: number,
  x1: number,
  yx: number,
  yy: number,
  y1: number,
  wx: number,
  wy: number,
  w1: number,
]

/** A 2D offset, pixels: x to the right, y down. */
export interface Offset {
  readonly dx: number
  readonly dy: number
}

/**
 * Where a donor lies on the target: by its 2D offset, or, where it turns, grows or tilts as well, by a transform, of which
 * the offset says what it does at the middle of the region.
 */
export interface Placement extends Offset {
  readonly transform?: Transform
}

export const IDENTITY: Transform = [1, 0, 0, 0, 1, 0, 0, 0, 1]

/** Below this share of what its products add up to, a determinant is rounding alone: the transform has no inverse. */
const SINGULAR = 1e-14

/** Moves by (dx, dy). */
export function shift(dx: number, dy: number): Transform {
  return [1, 0, dx, 0, 1, dy, 0, 0, 1]
}

/** True where it moves all pixels alike and does nothing else. */
export function isShift([xx, xy, , yx, yy, , wx, wy, w1]: Transform): boolean {
  return xx === 1 && xy === 0 && yx === 0 && yy === 1 && wx === 0 && wy === 0 && w1 === 1
}

/** True where it moves by whole pixels and does nothing else: it is done by copying. */
export function isWhole(transform: Transform): boolean {
  return isShift(transform) && Number.isInteger(transform[2]) && Number.isInteger(transform[5])
}

/**
 * First `inner`, then `outer`: apply(compose(outer, inner), p) is apply(outer, apply(inner, p)). Of shifts exactly the
 * sum, so that compose(invert(shift(a)), shift(b)) is shift(b - a) to the last bit.
 */
export function compose(outer: Transform, inner: Transform): Transform {
  if (isShift(outer) && isShift(inner)) return shift(inner[2] + outer[2], inner[5] + outer[5])
  const [a, b, c, d, e, f, g, h, i] = outer
  const [j, k, l, m, n, o, p, q, r] = inner
  return [
    a * j + b * m + c * p,
    a * k + b * n + c * q,
    a * l + b * o + c * r,
    d * j + e * m + f * p,
    d * k + e * n + f * q,
    d * l + e * o + f * r,
    g * j + h * m + i * p,
    g * k + h * n + i * q,
    g * l + h * o + i * r,
  ]
}

/**
 * The transform that undoes it: the adjugate over the determinant; of a shift the negative shift, exactly.
 *
 * @throws RangeError where it has none, as it folds the picture onto a line
 */
export function invert(transform: Transform): Transform {
  if (isShift(transform)) return shift(-transform[2], -transform[5])
  const determinant = determinantOf(transform)
  if (determinant === null) throw new RangeError(`the transform [${transform.join(', ')}] has no inverse`)
  const [a, b, c, d, e, f, g, h, i] = transform
  return [
    (e * i - f * h) / determinant,
    (c * h - b * i) / determinant,
    (b * f - c * e) / determinant,
    (f * g - d * i) / determinant,
    (a * i - c * g) / determinant,
    (c * d - a * f) / determinant,
    (d * h - e * g) / determinant,
    (b * g - a * h) / determinant,
    (a * e - b * d) / determinant,
  ]
}

/** False where it folds the picture onto a line. */
export function hasInverse(transform: Transform): boolean {
  return determinantOf(transform) !== null
}

/** Null where it is 0 but for rounding. */
function determinantOf([a, b, c, d, e, f, g, h, i]: Transform): number | null {
  const products = [a * e * i, b * f * g, c * d * h, -c * e * g, -b * d * i, -a * f * h]
  const determinant = products.reduce((sum, v) => sum + v)
  const size = products.reduce((sum, v) => sum + Math.abs(v), 0)
  return Math.abs(determinant) > SINGULAR * size ? determinant : null
}

/** The same with a last number of 1: its factor says nothing. */
export function scaledToOne(transform: Transform): Transform {
  return transform.map((v) => v / transform[8]) as unknown as Transform
}

/** Where it puts a pixel; not finite for one on the line that it puts at infinity. */
export function apply(transform: Transform, x: number, y: number): { x: number; y: number } {
  const [xx, xy, x1, yx, yy, y1, wx, wy, w1] = transform
  if (isShift(transform)) return { x: x + x1, y: y + y1 }
  const w = wx * x + wy * y + w1
  return { x: (xx * x + xy * y + x1) / w, y: (yx * x + yy * y + y1) / w }
}

/**
 * The 2D offset that comes nearest to it over a rectangle of the target: of a shift its own, exactly; else what it moves
 * the middle of the rectangle by, which of an affine transform is the mean over all of it.
 */
export function shiftOf(transform: Transform, { x, y, w, h }: Rect): Offset {
  if (isShift(transform)) return { dx: transform[2], dy: transform[5] }
  const middle = { x: x + (w - 1) / 2, y: y + (h - 1) / 2 }
  const from = apply(invert(transform), middle.x, middle.y)
  return { dx: middle.x - from.x, dy: middle.y - from.y }
}

/** How a transform is noted: a shift as its offset alone. @param rect of the target, whose middle the offset is told at */
export function placementOf(transform: Transform, rect: Rect): Placement {
  const offset = shiftOf(transform, rect)
  return isShift(transform) ? offset : { ...offset, transform }
}

/** What it does to every pixel of the donor: its transform, or where it has none the shift by its offset. */
export function transformOf({ dx, dy, transform }: Placement): Transform {
  return transform ?? shift(dx, dy)
}
