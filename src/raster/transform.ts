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

// These are called for pixels: numbers are taken by their places, since an array that is taken apart is an iterator to the
// engine, which takes long to compile where it is inlined.

/** True where it moves all pixels alike and does nothing else. */
export function isShift(t: Transform): boolean {
  const isStraight = t[0] === 1 && t[1] === 0 && t[3] === 0 && t[4] === 1
  return isStraight && t[6] === 0 && t[7] === 0 && t[8] === 1
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
  const at = (row: number, column: number) =>
    outer[row] * inner[column] + outer[row + 1] * inner[column + 3] + outer[row + 2] * inner[column + 6]
  return [at(0, 0), at(0, 1), at(0, 2), at(3, 0), at(3, 1), at(3, 2), at(6, 0), at(6, 1), at(6, 2)]
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
  const t = transform
  if (isShift(t)) return { x: x + t[2], y: y + t[5] }
  const w = t[6] * x + t[7] * y + t[8]
  return { x: (t[0] * x + t[1] * y + t[2]) / w, y: (t[3] * x + t[4] * y + t[5]) / w }
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
