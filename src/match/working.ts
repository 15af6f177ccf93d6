// The working picture: log2 luminance, in which a change of exposure is a plain addition.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import { type Plane, plane } from '../raster/shift.js'

/**
 * Added to luminance before the logarithm, so that black has a finite value. 2^-12 is the step of a 12-bit linear
 * signal: below it there is only noise, and at mid grey (0.18) it bends a stop of exposure by less than 0.002.
 */
export const LOG_FLOOR = 2 ** -12

/** Entries of the table of log2 over one octave: with straight lines between them the error stays below 2e-8. */
const OCTAVE = 4096
const LOG2_OF = Float64Array.from({ length: OCTAVE + 1 }, (_, i) => Math.log2(1 + i / OCTAVE))
const asFloat = new Float32Array(1)
const asBits = new Int32Array(asFloat.buffer)

/** log2 of a normal positive float32, by its exponent and a table: a fifth of the time of Math.log2. */
function log2(value: number): number {
  asFloat[0] = value
  const bits = asBits[0]
  const index = (bits >> 11) & (OCTAVE - 1)
  const low = LOG2_OF[index]
  return (bits >> 23) - 127 + low + ((LOG2_OF[index + 1] - low) * (bits & 2047)) / 2048
}

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
 * @param rgb   linear light, [height, width, 3] row-major
 * @param x     plate position of the corner
 * @param clip  linear light from which a channel counts as clipped; Infinity for float files, which do not clip
 */
export function working(
  rgb: Readonly<Float32Array>,
  x: number,
  y: number,
  width: number,
  height: number,
  clip: number,
): Working {
  const log = plane(x, y, width, height)
  const trust = new Uint8Array(width * height)
  const [wr, wg, wb] = LUMINANCE_WEIGHTS
  // What an untrusted pixel shows to filters that run over it: the last good value, not a hole.
  let last = Math.log2(0.18)
  for (let i = 0, j = 0; i < trust.length; i++, j += 3) {
    const r = rgb[j]
    const g = rgb[j + 1]
    const b = rgb[j + 2]
    const luminance = wr * r + wg * g + wb * b
    if (luminance - luminance === 0) {
      last = log2(Math.max(0, luminance) + LOG_FLOOR)
      trust[i] = r < clip && g < clip && b < clip ? GOOD : CLIPPED
    }
    log.data[i] = last
  }
  return { log, trust }
}
