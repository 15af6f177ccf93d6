// How much of the source a pixel of the result covers under a transform. Where that is more than a pixel the filter is
// stretched by as much, or detail too fine for the result would come back as moire (G. Wolberg, Digital Image Warping,
// 1990, 6.2). The measure is the local affine map's footprint of P. Heckbert, Fundamentals of Texture Mapping and Image
// Warping (1989), 3.5: the ellipse that a round pixel has in the source. Differs: the filter stays in rows and columns and
// takes the ellipse's width and height, which of a zoom, a turn or both is exact, and else blurs a little more.
import { type Filter, type Taps, taps } from './filters.js'
import type { Rect } from './rect.js'
import { apply, invert, isShift, type Transform } from './transform.js'

/** One filter makes nothing smaller than this: beyond it detail does come back. */
export const MAX_STRETCH = 8

/** A turn's sines and cosines add up to 1 but for rounding. */
const NOT_SMALLER = 1 + 1e-9

/** Source pixels that a pixel of the result covers, at least 1. */
export interface Stretch {
  readonly across: number
  readonly down: number
}

/** The stretch of each pixel (x, y) of the result. @throws RangeError where the transform has no inverse */
export function stretchUnder(transform: Transform): (x: number, y: number) => Stretch {
  const back = invert(transform)
  const [xx, xy, , yx, yy, , wx, wy, w1] = back
  return (x, y) => {
    const w = wx * x + wy * y + w1
    const from = apply(back, x, y)
    return {
      across: stretchOf((xx - from.x * wx) / w, (xy - from.x * wy) / w),
      down: stretchOf((yx - from.y * wx) / w, (yy - from.y * wy) / w),
    }
  }
}

/** @param byX change of the place in the source, by a pixel to the right in the result; `byY` down */
function stretchOf(byX: number, byY: number): number {
  const length = Math.hypot(byX, byY)
  return length > NOT_SMALLER ? Math.min(MAX_STRETCH, length) : 1
}

/** Places along each side of a rectangle at which its stretch is looked at; between them it changes little. */
const SIDE_PLACES = [0, 0.25, 0.5, 0.75, 1]

/** The most stretch over a rectangle of the result, in either direction. @throws as stretchUnder */
export function mostStretch({ x, y, w, h }: Rect, transform: Transform): number {
  if (isShift(transform)) return 1
  const stretchAt = stretchUnder(transform)
  let most = 1
  for (const right of SIDE_PLACES)
    for (const below of SIDE_PLACES) {
      const { across, down } = stretchAt(x + right * (w - 1), y + below * (h - 1))
      most = Math.max(most, across, down)
    }
  return most
}

/** The taps of a filter stretched round a place in the source: `start` is the source pixel of the first. */
export function stretchedTaps(place: number, stretch: number, filter: Filter): Taps {
  if (stretch <= 1 || filter.radius < 1) return taps(-place, filter)
  const reach = filter.radius * stretch
  const start = Math.ceil(place - reach)
  const weights = new Float64Array(Math.floor(place + reach) - start + 1)
  for (let k = 0; k < weights.length; k++) weights[k] = filter.at((start + k - place) / stretch)
  const sum = weights.reduce((a, b) => a + b)
  return { start, weights: weights.map((w) => w / sum) }
}
