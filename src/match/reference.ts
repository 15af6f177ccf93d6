// A picture that many donors are aligned to, with all that depends on it alone worked out once.
import { differencesAt } from '../kernels/correlate.js'
import { halve, smooth } from '../kernels/pyramid.js'
import type { Held, Workspace } from '../kernels/workspace.js'
import { CUBIC, taps } from '../raster/filters.js'
import type { Plane } from '../raster/plane.js'
import { count, type DetailLevel, detailLevel } from './detail.js'
import { halveWeights } from './half-bits.js'
import { noiseSigma } from './texture.js'

/** Coarsest level: the reach there is at most this many pixels, so that the exhaustive search stays small. */
const COARSE_REACH = 4
/** A coarser level must keep this many: with fewer votes the luckiest of its offsets beats the true one. */
const MIN_VOTES = 500
/**
 * Pixels that the refinement compares: more hardly sharpen the answer. At 6,000 the error of the offset on the quayside's
 * wall is 0.002 px, a tenth of what shows.
 */
const MAX_PIXELS = 6000
/**
 * Grain has gradients too, and they hold nothing. Of white noise the binomial low pass keeps (70 / 256)^2 of the variance
 * and a central difference of that 0.3; half as much again for grain that is not quite white.
 */
const GRAIN_GRADIENT = 1.5 * 0.3 * (70 / 256) ** 2

/** The pixels of a picture that are compared: positions in its plane, samples and weights side by side. */
export interface Listed {
  readonly x: number
  readonly y: number
  /** How many pixels count in all; of many, an even share is listed. */
  readonly counted: number
  readonly column: Readonly<Int32Array>
  readonly row: Readonly<Int32Array>
  readonly value: Readonly<Float32Array>
  readonly weight: Readonly<Float32Array>
}

/** A picture that many donors are aligned to, with all that depends on it alone. */
export interface Reference {
  /** Finest first; squashed detail, for the search in whole pixels. */
  readonly levels: readonly DetailLevel[]
  /** The finest level's pixels in the smoothed picture, with its gradients there. */
  readonly low: Listed
  readonly gradientX: Readonly<Float32Array>
  readonly gradientY: Readonly<Float32Array>
  /** Mean square of the gradient that is grain, either way. */
  readonly grainGradient: number
}

/**
 * Prepares a picture for `align`.
 *
 * @param picture log2 luminance, at plate position (x, y)
 * @param weight  0 or more per pixel of it; 0 leaves the pixel out
 */
export function prepareReference(
  workspace: Workspace,
  picture: Plane,
  weight: Readonly<Float32Array>,
  reachPx: number,
): Reference {
  const levels: DetailLevel[] = []
  let current = picture
  let weights = weight
  let reach = reachPx
  for (;;) {
    levels.push(detailLevel(workspace, current, weights))
    if (reach <= COARSE_REACH) break
    const next = halve(workspace, current)
    const nextWeights = halveWeights(weights, current.width, current.height)
    if (count(nextWeights) < MIN_VOTES) break
    current = next
    weights = nextWeights
    reach /= 2
  }
  const smoothed = smooth(workspace, picture)
  const low = listPixels(smoothed, weight)
  const grain = noiseSigma(workspace, picture.data, picture.width, weight) ?? 0
  return { levels, low, ...gradients(smoothed, low), grainGradient: GRAIN_GRADIENT * grain * grain }
}

/** The same with all that is asked of it for every donor in the workspace, for as long as it is held. */
export function heldReference(
  held: Held,
  { levels, low, gradientX, gradientY, ...rest }: Reference,
): Reference {
  const whole = (places: Readonly<Int32Array>) => {
    const laid = held.integers(places.length)
    laid.set(places)
    return laid
  }
  return {
    ...rest,
    levels: levels.map((l) => ({ ...l, weight: held.laid(l.weight), product: held.laid(l.product) })),
    low: {
      ...low,
      column: whole(low.column),
      row: whole(low.row),
      value: held.laid(low.value),
      weight: held.laid(low.weight),
    },
    gradientX: held.laid(gradientX),
    gradientY: held.laid(gradientY),
  }
}

/**
 * A donor against the reference at its listed pixels, moved by (dx, dy): what differs, stops. The donor's edge samples are
 * repeated beyond it.
 *
 * @param donor smoothed as the reference is
 * @param out   receives donor minus reference, `reference.low.value.length` samples
 */
export function differenceAt(
  workspace: Workspace,
  reference: Reference,
  donor: Plane,
  dx: number,
  dy: number,
  out: Float32Array,
): void {
  const { low: listed } = reference
  const across = taps(dx, CUBIC)
  const down = taps(dy, CUBIC)
  const weights = new Float32Array(8)
  weights.set(across.weights)
  weights.set(down.weights, 4)
  const left = listed.x - donor.x + across.start
  const top = listed.y - donor.y + down.start
  differencesAt(workspace, donor, listed.column, listed.row, left, top, weights, listed.value, out)
}

/** Central differences at a level's listed pixels, one-sided at the picture's edge. */
function gradients(
  picture: Plane,
  { column, row }: Listed,
): { gradientX: Float32Array; gradientY: Float32Array } {
  const { width, height, data } = picture
  const gradientX = new Float32Array(column.length)
  const gradientY = new Float32Array(column.length)
  for (let k = 0; k < column.length; k++) {
    const i = row[k] * width + column[k]
    const left = column[k] > 0 ? 1 : 0
    const right = column[k] < width - 1 ? 1 : 0
    const up = row[k] > 0 ? 1 : 0
    const down = row[k] < height - 1 ? 1 : 0
    gradientX[k] = (data[i + right] - data[i - left]) / Math.max(1, left + right)
    gradientY[k] = (data[i + down * width] - data[i - up * width]) / Math.max(1, up + down)
  }
  return { gradientX, gradientY }
}

function listPixels(picture: Plane, weight: Readonly<Float32Array>): Listed {
  const { x, y, width, data } = picture
  const counted = count(weight)
  const listed = Math.min(counted, MAX_PIXELS)
  const column = new Int32Array(listed)
  const row = new Int32Array(listed)
  const value = new Float32Array(listed)
  const kept = new Float32Array(listed)
  let met = 0
  let n = 0
  for (let i = 0; i < weight.length && n < listed; i++) {
    if (!(weight[i] > 0)) continue
    // Every (counted / listed)-th pixel, in whole steps that never drift.
    if (Math.floor((met++ * listed) / counted) !== n) continue
    column[n] = i % width
    row[n] = Math.floor(i / width)
    value[n] = data[i]
    kept[n++] = weight[i]
  }
  return { x, y, counted, column, row, value, weight: kept }
}
