// The working picture: log2 luminance, in which a change of exposure is a plain addition.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import { HALF_VALUES } from '../raster/half.js'
import type { Rect } from '../raster/rect.js'
import { type Plane, plane } from '../raster/shift.js'

/**
 * Added to luminance before the logarithm, so that black has a finite value. 2^-12 is the step of a 12-bit linear
 * signal: below it there is only noise, and at mid grey (0.18) it bends a stop of exposure by less than 0.002.
 */
export const LOG_FLOOR = 2 ** -12

/**
 * log2 of a normal positive float32 is its exponent and, from a table, its mantissa rounded to so many bits: 4e-5 stops
 * at most from the truth, a tenth of what a half float rounds away, in a fraction of the time of Math.log2.
 */
const MANTISSA_BITS = 14
const DROPPED_BITS = 23 - MANTISSA_BITS
const MASK = (1 << MANTISSA_BITS) - 1
const LOG2_OF = Float32Array.from({ length: MASK + 1 }, (_, i) => Math.log2(1 + i / (MASK + 1)))

/** Not finite, outside the frame, or hidden: says nothing. */
export const HOLE = 0
export const GOOD = 1
/** At the top of its range: shown as it is, but no measure of light or texture. */
export const CLIPPED = 2

export interface Working {
  /** log2(Y + LOG_FLOOR), Y the BT.709-weighted linear light. */
  readonly log: Plane
  /** HOLE, GOOD or CLIPPED per pixel. */
  readonly trust: Uint8Array
}

/**
 * @param halves linear light, [rect.h, rect.w, 3] row-major, half floats
 * @param rect   where it lies on the plate
 * @param clip   linear light from which a channel counts as clipped; Infinity for float files, which do not clip
 * @param into   an earlier answer over the same rectangle to write over
 */
export function working(
  halves: Readonly<Uint16Array>,
  { x, y, w, h }: Rect,
  clip: number,
  into: Working = { log: plane(x, y, w, h), trust: new Uint8Array(w * h) },
): Working {
  const { trust } = into
  const { data } = into.log
  const bits = new Int32Array(data.buffer, data.byteOffset, data.length)
  const [wr, wg, wb] = LUMINANCE_WEIGHTS
  for (let i = 0, j = 0; i < trust.length; i++, j += 3) {
    const r = HALF_VALUES[halves[j]]
    const g = HALF_VALUES[halves[j + 1]]
    const b = HALF_VALUES[halves[j + 2]]
    const luminance = wr * r + wg * g + wb * b
    trust[i] = luminance - luminance !== 0 ? HOLE : r < clip && g < clip && b < clip ? GOOD : CLIPPED
    data[i] = luminance > 0 ? luminance + LOG_FLOOR : LOG_FLOOR
  }
  // What an untrusted pixel shows to filters that run over it: the last good value, not a hole.
  let last = Math.log2(0.18)
  for (let i = 0; i < trust.length; i++) {
    const rounded = bits[i] + (1 << (DROPPED_BITS - 1))
    if (trust[i] !== HOLE) last = (rounded >> 23) - 127 + LOG2_OF[(rounded >> DROPPED_BITS) & MASK]
    data[i] = last
  }
  return into
}
