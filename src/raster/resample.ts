// Resampling under any transform: every pixel of the result looks up where it comes from (G. Wolberg, Digital Image
// Warping, 1990, inverse mapping) and weighs the samples round that place. Of a shift all pixels have the same taps,
// which is what the kernels are made for; this is the general case.
import { type Filter, NEAREST, type Taps, taps } from './filters.js'
import type { Plane } from './plane.js'
import { grow, type Rect } from './rect.js'
import { apply, invert, isShift, type Transform } from './transform.js'

/** The taps of one pixel of the result: starts are counted from that pixel's own place. */
export interface PixelTaps {
  readonly across: Taps
  readonly down: Taps
}

/**
 * What each pixel (x, y) of the result is made of; of a shift the same for all.
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

/**
 * A plane moved by a transform, over `out`'s rectangle; beyond the source its edge samples are repeated. The filter keeps
 * its width: a transform that makes the picture smaller by much needs a smaller source first.
 *
 * @param out receives out(p) = source(invert(transform)(p)); may not share samples with the source
 * @throws RangeError where the transform has no inverse
 */
export function resamplePlane(source: Plane, transform: Transform, out: Plane, filter: Filter): void {
  const under = tapsUnder(transform, filter)
  const { width, height, data } = source
  for (let y = out.y, i = 0; y < out.y + out.height; y++) {
    for (let x = out.x; x < out.x + out.width; x++, i++) {
      const { across, down } = under(x, y)
      const left = x - source.x + across.start
      const top = y - source.y + down.start
      let sum = 0
      for (let k = 0; k < down.weights.length; k++) {
        const row = clamp(top + k, height - 1) * width
        let along = 0
        for (let j = 0; j < across.weights.length; j++)
          along += across.weights[j] * data[row + clamp(left + j, width - 1)]
        sum += down.weights[k] * along
      }
      out.data[i] = sum
    }
  }
}

function clamp(index: number, last: number): number {
  return Math.min(last, Math.max(0, index))
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
  const under = tapsUnder(transform, NEAREST)
  if (isShift(transform)) {
    const { across, down } = under(x, y)
    const left = x - rect.x + across.start
    const top = y - rect.y + down.start
    const from = Math.max(0, -left)
    const to = Math.min(w, rect.w - left)
    for (let v = Math.max(0, -top); v < Math.min(h, rect.h - top) && from < to; v++) {
      const row = (v + top) * rect.w + left
      out.data.set(data.subarray(row + from, row + to), v * w + from)
    }
    return
  }
  for (let v = 0, i = 0; v < h; v++) {
    for (let u = 0; u < w; u++, i++) {
      const { across, down } = under(x + u, y + v)
      const sx = x + u - rect.x + across.start
      const sy = y + v - rect.y + down.start
      if (sx >= 0 && sy >= 0 && sx < rect.w && sy < rect.h) out.data[i] = data[sy * rect.w + sx]
    }
  }
}

/** What of the source a filter of so many taps either side reads for a rectangle of the result, with a pixel to spare. */
export function sourceRect(out: Rect, transform: Transform, radius: number): Rect {
  const under = tapsUnder(transform, NEAREST)
  const corners = [out.x, out.x + out.w - 1].flatMap((x) =>
    [out.y, out.y + out.h - 1].map((y) => {
      const { across, down } = under(x, y)
      return { x: x + across.start, y: y + down.start }
    }),
  )
  const xs = corners.map((c) => c.x)
  const ys = corners.map((c) => c.y)
  const [x, y] = [Math.min(...xs), Math.min(...ys)]
  return grow({ x, y, w: Math.max(...xs) - x + 1, h: Math.max(...ys) - y + 1 }, radius + 1)
}
