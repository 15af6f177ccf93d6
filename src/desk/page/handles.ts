// What can be taken hold of in a shape, and the shape after it was moved. Points are plate pixels.
import { pointsAt } from '../shapes.js'
import type { Point, Shape } from '../shot-state.js'

type Kind = Shape['kind']

/** Where a shape is taken hold of: the corners of a box, or of the box round an ellipse; the corners of a polygon. */
export function handlesOf(kind: Kind, points: readonly Point[]): readonly Point[] {
  if (kind === 'brush') return []
  if (kind === 'polygon') return points
  const [[x0, y0], [x1, y1]] = [points[0], points[1] ?? points[0]]
  return [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ]
}

/** The points after one handle was taken to `to`: of a box the opposite corner stays. */
export function withHandleAt(kind: Kind, points: readonly Point[], handle: number, to: Point): Point[] {
  if (kind === 'polygon') return points.map((point, i) => (i === handle ? to : point))
  const [[x0, y0], [x1, y1]] = [points[0], points[1] ?? points[0]]
  const [x, y] = to
  const left = handle === 0 || handle === 3
  const top = handle === 0 || handle === 1
  return [
    [left ? x : x0, top ? y : y0],
    [left ? x1 : x, top ? y1 : y],
  ]
}

export function movedBy(points: readonly Point[], dx: number, dy: number): Point[] {
  return points.map(([x, y]) => [x + dx, y + dy])
}

/** Left, top, width, height of points. */
export function boxRound(points: readonly Point[]): readonly [x: number, y: number, w: number, h: number] {
  let [left, top, right, bottom] = [Infinity, Infinity, -Infinity, -Infinity]
  for (const [x, y] of points) {
    left = Math.min(left, x)
    top = Math.min(top, y)
    right = Math.max(right, x)
    bottom = Math.max(bottom, y)
  }
  return [left, top, right - left, bottom - top]
}

/** The points moved and stretched so that the box round them is another one; what is flat stays flat. */
export function stretchedTo(
  points: readonly Point[],
  [x, y, w, h]: readonly [number, number, number, number],
): Point[] {
  const [x0, y0, w0, h0] = boxRound(points)
  const [across, down] = [w0 > 0 ? w / w0 : 1, h0 > 0 ? h / h0 : 1]
  return points.map(([px, py]) => [x + (px - x0) * across, y + (py - y0) * down])
}

/**
 * The shape with its points on a frame. A shape with one key stands still: it is moved on all frames. One with several has
 * a key on this frame afterwards.
 */
export function withPoints(shape: Shape, frame: number, points: readonly Point[]): Shape {
  const kept = [...points]
  return shape.keys.length === 1
    ? { ...shape, keys: [{ frame: shape.keys[0].frame, points: kept }] }
    : keyed(shape, frame, kept)
}

/** The shape with a key on a frame: as it lies there, or as `points` has it. */
export function keyed(shape: Shape, frame: number, points: readonly Point[] = pointsAt(shape, frame)): Shape {
  const others = shape.keys.filter((key) => key.frame !== frame)
  const keys = [...others, { frame, points: [...points] }].sort((a, b) => a.frame - b.frame)
  return { ...shape, keys }
}

/** The shape without its key on a frame; the last key stays. */
export function unkeyed(shape: Shape, frame: number): Shape {
  const keys = shape.keys.filter((key) => key.frame !== frame)
  return keys.length === 0 ? shape : { ...shape, keys }
}

/** Frames on which any of the shapes has a key, where it has several. */
export function keyedFrames(shapes: readonly Shape[]): number[] {
  const frames = new Set<number>()
  for (const { keys } of shapes) {
    if (keys.length > 1) for (const { frame } of keys) frames.add(frame)
  }
  return [...frames].sort((a, b) => a - b)
}

/** The box round what shapes cover on a frame, brushes with their width; null where they cover nothing. */
export function covered(
  shapes: readonly Shape[],
  frame: number,
): readonly [x: number, y: number, w: number, h: number] | null {
  const corners: Point[] = []
  for (const shape of shapes) {
    if (shape.cut) continue
    const [x, y, w, h] = boxRound(pointsAt(shape, frame))
    const beyond = shape.kind === 'brush' ? (shape.widthPx ?? 1) / 2 : 0
    corners.push([x - beyond, y - beyond], [x + w + beyond, y + h + beyond])
  }
  return corners.length === 0 ? null : boxRound(corners)
}
