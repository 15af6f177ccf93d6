// Rectangles in whole plate pixels: x to the right, y down, (0, 0) the top left pixel.

export interface Rect {
  readonly x: number
  readonly y: number
  readonly w: number
  readonly h: number
}

/** As files and options have it. */
export type Sides = readonly [x: number, y: number, w: number, h: number]

export function rectOf([x, y, w, h]: Sides): Rect {
  return { x, y, w, h }
}

/** The rectangle with `margin` more pixels on every side. */
export function grow(rect: Rect, margin: number): Rect {
  return {
    x: rect.x - margin,
    y: rect.y - margin,
    w: rect.w + 2 * margin,
    h: rect.h + 2 * margin,
  }
}

/** The rectangle as it lies in a picture whose corner is the origin's. */
export function relativeTo(rect: Rect, origin: Rect): Rect {
  return { ...rect, x: rect.x - origin.x, y: rect.y - origin.y }
}

/** What two rectangles share; width or height 0 where they share nothing. */
export function intersect(a: Rect, b: Rect): Rect {
  const x = Math.max(a.x, b.x)
  const y = Math.max(a.y, b.y)
  const w = Math.max(0, Math.min(a.x + a.w, b.x + b.w) - x)
  const h = Math.max(0, Math.min(a.y + a.h, b.y + b.h) - y)
  return { x, y, w, h }
}

/** The smallest rectangle round both; an empty one adds nothing. */
export function unite(a: Rect, b: Rect): Rect {
  if (isEmpty(a)) return b
  if (isEmpty(b)) return a
  const x = Math.min(a.x, b.x)
  const y = Math.min(a.y, b.y)
  return {
    x,
    y,
    w: Math.max(a.x + a.w, b.x + b.w) - x,
    h: Math.max(a.y + a.h, b.y + b.h) - y,
  }
}

export function isEmpty(rect: Rect): boolean {
  return rect.w <= 0 || rect.h <= 0
}

export function isSameRect(a: Rect, b: Rect): boolean {
  return a.x === b.x && a.y === b.y && a.w === b.w && a.h === b.h
}

export function contains(outer: Rect, inner: Rect): boolean {
  return (
    inner.x >= outer.x &&
    inner.y >= outer.y &&
    inner.x + inner.w <= outer.x + outer.w &&
    inner.y + inner.h <= outer.y + outer.h
  )
}

/** The smallest rectangle round all values that are not 0, row-major; null where all are. */
export function boundsOf(values: ArrayLike<number>, width: number): Rect | null {
  let left = width
  let right = -1
  let top = -1
  let bottom = -1
  for (let y = 0, row = 0; row < values.length; y++, row += width) {
    const first = firstOf(values, row, row + width)
    if (first === row + width) continue
    if (top < 0) top = y
    bottom = y
    left = Math.min(left, first - row)
    right = Math.max(right, lastOf(values, row + right, row + width) - row)
  }
  return top < 0 ? null : { x: left, y: top, w: right - left + 1, h: bottom - top + 1 }
}

/** The first place from `from` on that is not 0; `to`: there is none. */
function firstOf(values: ArrayLike<number>, from: number, to: number): number {
  let i = from
  while (i < to && values[i] === 0) i++
  return i
}

/** The last place before `to` that is not 0; `after`: there is none behind that. */
function lastOf(values: ArrayLike<number>, after: number, to: number): number {
  let i = to - 1
  while (i > after && values[i] === 0) i--
  return i
}
