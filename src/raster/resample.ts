// What resampling reads, and moving what can't be averaged: every pixel of the result looks up where it comes from
// (G. Wolberg, Digital Image Warping, 1990, inverse mapping). Pixels themselves are moved by src/kernels.
import { type Filter, NEAREST, type Taps, taps } from './filters.js'
import { mostStretch } from './footprint.js'
import { grow, type Rect } from './rect.js'
import { apply, invert, isShift, type Transform } from './transform.js'

/** The taps of one pixel of the result: starts are counted from that pixel's own place. */
export interface PixelTaps {
  readonly across: Taps
  readonly down: Taps
}

/**
 * The taps round the place of each pixel (x, y) of the result, the filter as wide as it is; of a shift the same for all.
 *
 * @param make `taps`, or `filterTaps` for as many taps at whole places as elsewhere
 * @throws RangeError where the transform has no inverse
 */
export function tapsUnder(
  transform: Transform,
  filter: Filter,
  make: (shift: number, filter: Filter) => Taps = taps,
): (x: number, y: number) => PixelTaps {
  if (isShift(transform)) {
    const all = { across: make(transform[2], filter), down: make(transform[5], filter) }
    return () => all
  }
  const back = invert(transform)
  return (x, y) => {
    const from = apply(back, x, y)
    return { across: make(within(x - from.x), filter), down: make(within(y - from.y), filter) }
  }
}

/** Further than any picture is wide: all of it is edge there, on the horizon and behind it. */
const FAR_PX = 2 ** 30

function within(shift: number): number {
  return shift > -FAR_PX ? Math.min(FAR_PX, shift) : -FAR_PX
}

/** What can't be averaged (validity, holes): a byte per pixel over a rectangle, row-major. */
export interface Marks {
  readonly rect: Rect
  readonly data: Uint8Array
}

/**
 * Marks moved by a transform, over `out`'s rectangle: each takes the nearest.
 *
 * @param out is left as it is where that lies beyond the source; may not share bytes with it
 * @throws RangeError where the transform has no inverse
 */
export function moveMarks({ rect, data }: Marks, transform: Transform, out: Marks): void {
  const { x, y, w, h } = out.rect
  if (isShift(transform)) {
    const left = x - rect.x + taps(transform[2], NEAREST).start
    const top = y - rect.y + taps(transform[5], NEAREST).start
    const from = Math.max(0, -left)
    const to = Math.min(w, rect.w - left)
    for (let v = Math.max(0, -top); v < Math.min(h, rect.h - top) && from < to; v++) {
      const row = (v + top) * rect.w + left
      out.data.set(data.subarray(row + from, row + to), v * w + from)
    }
    return
  }
  const [xx, xy, x1, yx, yy, y1, wx, wy, w1] = invert(transform)
  for (let v = 0, i = 0; v < h; v++) {
    const below = y + v
    for (let u = 0; u < w; u++, i++) {
      const right = x + u
      const over = 1 / (wx * right + wy * below + w1)
      // Of two that are as near, the one to the left or above.
      const sx = Math.ceil((xx * right + xy * below + x1) * over - 0.5) - rect.x
      const sy = Math.ceil((yx * right + yy * below + y1) * over - 0.5) - rect.y
      if (sx >= 0 && sy >= 0 && sx < rect.w && sy < rect.h) out.data[i] = data[sy * rect.w + sx]
    }
  }
}

/** What of the source a filter of so many taps either side reads for a rectangle of the result, with a pixel to spare. */
export function sourceRect(out: Rect, transform: Transform, radius: number): Rect {
  const back = invert(transform)
  const corners = [out.x, out.x + out.w - 1].flatMap((x) =>
    [out.y, out.y + out.h - 1].map((y) => {
      const from = apply(back, x, y)
      return { x: Math.ceil(within(from.x) - 0.5), y: Math.ceil(within(from.y) - 0.5) }
    }),
  )
  const xs = corners.map((c) => c.x)
  const ys = corners.map((c) => c.y)
  const [x, y] = [Math.min(...xs), Math.min(...ys)]
  const read = { x, y, w: Math.max(...xs) - x + 1, h: Math.max(...ys) - y + 1 }
  return grow(read, Math.ceil(radius * mostStretch(out, transform)) + 1)
}
