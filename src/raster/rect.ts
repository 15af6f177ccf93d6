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
  let [left, right, top, bottom] = [width, -1, -1, -1]
  for (let i = 0; i < values.length; i++) {
    if (values[i] === 0) continue
    const y = Math.floor(i / width)
    if (top < 0) top = y
    bottom = y
    left = Math.min(left, i - y * width)
    right = Math.max(right, i - y * width)
  }
  return top < 0 ? null : { x: left, y: top, w: right - left + 1, h: bottom - top + 1 }
}
