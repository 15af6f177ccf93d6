// The working picture: log2 luminance, in which a change of exposure is a plain addition.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import { shrunk } from '../kernels/shrunk.js'
import { type Working, working } from '../kernels/working.js'
import type { Workspace } from '../kernels/workspace.js'
import { floatsToHalves, HALF_VALUES } from '../raster/half.js'
import { type Plane, plane } from '../raster/plane.js'
import type { Rect } from '../raster/rect.js'

/**
 * Added to luminance before the logarithm, so that black has a finite value. 2^-12 is the step of a 12-bit linear
 * signal: below it there is only noise, and at mid grey (0.18) it bends a stop of exposure by less than 0.002.
 */
export const LOG_FLOOR = 2 ** -12

/** What filters find in a hole that no good pixel comes before. */
const MID_GREY = Math.log2(0.18)

/** Not finite, outside the frame, or hidden: says nothing. */
export const INVALID = 0
export const VALID = 1
/** At the top of its range: shown as it is, but no measure of light or texture. */
export const CLIPPED = 2

export interface LogLuminance {
  /** log2(Y + LOG_FLOOR), Y the BT.709-weighted linear light. */
  readonly log: Plane
  /** INVALID, VALID or CLIPPED per pixel. */
  readonly validity: Uint8Array
}

/**
 * @param halves linear light, [rect.h, rect.w, 3] row-major, half floats
 * @param rect   where it lies on the plate
 * @param clip   linear light from which a channel counts as clipped; Infinity for float files, which do not clip
 * @param into   an earlier answer over the same rectangle to write over
 */
export function logLuminance(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  { x, y, w, h }: Rect,
  clip: number,
  into: LogLuminance = { log: plane(x, y, w, h), validity: new Uint8Array(w * h) },
): LogLuminance {
  working(workspace, halves, howFor(clip), into.log.data, into.validity)
  return into
}

/** A smaller working picture. */
export interface SmallLogLuminance {
  /** Its corner at 0, 0. */
  readonly log: Plane
  /** 1 where every pixel of the square is VALID, else 0. */
  readonly known: Uint8Array
}

/** Room for the one of a rectangle. */
export function smallRoom({ w, h }: Pick<Rect, 'w' | 'h'>, factor: number): SmallLogLuminance {
  const log = plane(0, 0, Math.floor(w / factor), Math.floor(h / factor))
  return { log, known: new Uint8Array(log.data.length) }
}

/**
 * The same, smaller: means over factor x factor pixels, of what fills such squares from the rectangle's corner on.
 *
 * @param into where it is written
 */
export function smallLogLuminance(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  rect: Pick<Rect, 'w' | 'h'>,
  factor: number,
  clip: number,
  into: SmallLogLuminance = smallRoom(rect, factor),
): SmallLogLuminance {
  shrunk(workspace, halves, rect.w, factor, howFor(clip), into.log.data, into.known)
  return into
}

function howFor(clip: number): Working {
  return { weights: LUMINANCE_WEIGHTS, floor: LOG_FLOOR, clipHalf: halfFrom(clip), first: MID_GREY }
}

/** The least half that is not below a value. */
function halfFrom(value: number): number {
  const half = Uint16Array.of(0)
  floatsToHalves(Float32Array.of(value), half)
  return HALF_VALUES[half[0]] < value ? half[0] + 1 : half[0]
}
