// What lies under the pointer. All lengths in plate pixels.
import { pointsAt } from '../shapes.js'
import type { Point, Shape } from '../shot-state.js'
import { handlesOf } from './handles.js'

/** A handle of a shape, or the shape itself. */
export interface Hit {
  readonly shape: string
  readonly handle: number | null
}

/**
 * @param selected id of the shape whose handles show; they lie above all shapes
 * @param reach    how near to a handle or a line counts as on it
 */
export function hitAt(
  shapes: readonly Shape[],
  frame: number,
  selected: string | null,
  at: Point,
  reach: number,
): Hit | null {
  const open = shapes.find(({ id }) => id === selected)
  if (open) {
    const handle = nearest(handlesOf(open.kind, pointsAt(open, frame)), at, reach)
    if (handle !== null) return { shape: open.id, handle }
  }
  for (let i = shapes.length - 1; i >= 0; i--) {
    if (isInside(shapes[i], pointsAt(shapes[i], frame), at, reach))
      return { shape: shapes[i].id, handle: null }
  }
  return null
}

/** Index of the point that lies nearest, null where none lies within reach. */
function nearest(points: readonly Point[], [x, y]: Point, reach: number): number | null {
  let best: number | null = null
  let least = reach
  for (const [i, [px, py]] of points.entries()) {
    const away = Math.hypot(px - x, py - y)
    if (away <= least) {
      least = away
      best = i
    }
  }
  return best
}

function isInside({ kind, widthPx }: Shape, points: readonly Point[], at: Point, reach: number): boolean {
  switch (kind) {
    case 'box':
      return windings(boxCorners(points), at) !== 0
    case 'ellipse': {
      const [[x0, y0], [x1, y1]] = [points[0], points[1] ?? points[0]]
      const [rx, ry] = [Math.abs(x1 - x0) / 2, Math.abs(y1 - y0) / 2]
      if (rx === 0 || ry === 0) return false
      return ((at[0] - (x0 + x1) / 2) / rx) ** 2 + ((at[1] - (y0 + y1) / 2) / ry) ** 2 <= 1
    }
    case 'polygon':
      return windings(points, at) !== 0
    case 'brush':
      return distanceTo(points, at) <= Math.max((widthPx ?? 1) / 2, reach)
  }
}

function boxCorners(points: readonly Point[]): readonly Point[] {
  return handlesOf('box', points)
}

/** How often a closed course goes round a point: SVG fills where it is not 0. */
function windings(points: readonly Point[], [x, y]: Point): number {
  let count = 0
  for (let i = 0; i < points.length; i++) {
    const [x0, y0] = points[i]
    const [x1, y1] = points[(i + 1) % points.length]
    const side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
    if (y0 <= y && y1 > y && side > 0) count++
    else if (y0 > y && y1 <= y && side < 0) count--
  }
  return count
}

/** From a course, straight from point to point. */
export function distanceTo(course: readonly Point[], [x, y]: Point): number {
  let least = Math.hypot(course[0][0] - x, course[0][1] - y)
  for (let i = 1; i < course.length; i++) {
    const [x0, y0] = course[i - 1]
    const [dx, dy] = [course[i][0] - x0, course[i][1] - y0]
    const length = dx * dx + dy * dy
    const along = length === 0 ? 0 : Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / length))
    least = Math.min(least, Math.hypot(x0 + along * dx - x, y0 + along * dy - y))
  }
  return least
}

/**
 * A brush's course with as few points as keep within `off` of it, its ends among them.
 * D. H. Douglas, T. K. Peucker, 1973.
 */
export function simplified(course: readonly Point[], off: number): Point[] {
  const keep = new Set([0, course.length - 1])
  const open: [number, number][] = [[0, course.length - 1]]
  for (let part = open.pop(); part; part = open.pop()) {
    const [from, to] = part
    let furthest = -1
    let most = off
    for (let i = from + 1; i < to; i++) {
      const away = distanceTo([course[from], course[to]], course[i])
      if (away > most) {
        most = away
        furthest = i
      }
    }
    if (furthest < 0) continue
    keep.add(furthest)
    open.push([from, furthest], [furthest, to])
  }
  return course.filter((_, i) => keep.has(i))
}
