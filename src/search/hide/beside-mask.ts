// Where the pixels beside a mask lie: how far from the mask's nearest pixel, along which of its edges.

import { boundsOf } from '../../raster/rect.js'
import { GUARD_PX } from '../../region/region.js'
import { SIDES, type Side } from '../mask-edges.js'

/** @param dx @param dy from the mask to what lies beside it, pixels */
export function sideOf(dx: number, dy: number): Side {
  if (Math.abs(dx) > Math.abs(dy)) return dx > 0 ? 'right' : 'left'
  return dy > 0 ? 'lower' : 'upper'
}

/** The pixels round a mask, each with its place; all lists are as long. */
export interface Border {
  /** Indices into the picture, and of the mask's pixel that is nearest. */
  readonly pixels: Int32Array
  readonly nearest: Int32Array
  /** Which edge it lies along: an index into SIDES. */
  readonly side: Uint8Array
  /** Which third of that edge, from its left or upper end: 0, 1 or 2. */
  readonly third: Uint8Array
  /** How far from the mask it lies, pixels. */
  readonly far: Uint16Array
  /** 1 next to the mask, falling to 0 at the far end. */
  readonly near: Float32Array
}

/**
 * The ring round a mask, without the pixels next to it that an edge's own blur lies on.
 *
 * @param mask 1 where it covers a pixel, row-major
 * @param px   how wide the ring is; null where the mask covers nothing
 */
export function borderOf(mask: Readonly<Uint8Array>, width: number, px: number): Border | null {
  const box = boundsOf(mask, width)
  if (box === null) return null
  const reach = GUARD_PX + px
  const down = columnDistances(mask, width)
  const pixels: number[] = []
  const nearest: number[] = []
  const side: number[] = []
  const third: number[] = []
  const distance: number[] = []
  const near: number[] = []
  const [left, right] = [Math.max(0, box.x - reach), Math.min(width, box.x + box.w + reach)]
  const [top, bottom] = [Math.max(0, box.y - reach), Math.min(mask.length / width, box.y + box.h + reach)]
  for (let y = top; y < bottom; y++)
    for (let x = left; x < right; x++) {
      const i = y * width + x
      if (mask[i] === 1) continue
      const { dx, dy } = nearestOf(down, width, x, y)
      // As a region's surround is made: by squares.
      const far = Math.max(Math.abs(dx), Math.abs(dy))
      if (far <= GUARD_PX || far > reach) continue
      const along = sideOf(dx, dy)
      const share =
        along === 'left' || along === 'right' ? (y + 0.5 - box.y) / box.h : (x + 0.5 - box.x) / box.w
      pixels.push(i)
      nearest.push(i - dy * width - dx)
      side.push(SIDES.indexOf(along))
      third.push(Math.min(2, Math.max(0, Math.floor(3 * share))))
      distance.push(far)
      near.push(1 - (far - GUARD_PX) / (px + 1))
    }
  return {
    pixels: Int32Array.from(pixels),
    nearest: Int32Array.from(nearest),
    side: Uint8Array.from(side),
    third: Uint8Array.from(third),
    far: Uint16Array.from(distance),
    near: Float32Array.from(near),
  }
}

/** Per pixel, rows down from the nearest pixel of the mask in its column, below 0 upwards; far beyond any where there is none. */
export function columnDistances(mask: Readonly<Uint8Array>, width: number): Int32Array {
  const NONE = 1 << 20
  const out = new Int32Array(mask.length)
  for (let x = 0; x < width; x++) {
    let from = NONE
    for (let i = x; i < mask.length; i += width) {
      from = mask[i] === 1 ? 0 : Math.min(NONE, from + 1)
      out[i] = from
    }
    from = NONE
    for (let i = mask.length - width + x; i >= 0; i -= width) {
      from = mask[i] === 1 ? 0 : Math.min(NONE, from + 1)
      if (from < out[i]) out[i] = -from
    }
  }
  return out
}

/**
 * From the nearest pixel of the mask to a pixel beside it.
 *
 * @param down the mask's `columnDistances`
 */
export function nearestOf(
  down: Readonly<Int32Array>,
  width: number,
  x: number,
  y: number,
): { dx: number; dy: number } {
  const row = y * width
  let [dx, dy] = [0, down[row + x]]
  let square = dy * dy
  for (let away = 1; away * away < square && away < width; away++) {
    if (x >= away) {
      const found = down[row + x - away]
      const its = away * away + found * found
      if (its < square) [dx, dy, square] = [away, found, its]
    }
    if (x + away < width) {
      const found = down[row + x + away]
      const its = away * away + found * found
      if (its < square) [dx, dy, square] = [-away, found, its]
    }
  }
  return { dx, dy }
}
