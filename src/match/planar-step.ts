// One step of the least squares by which one picture is laid on another: residuals at a level's pixels, normal equations in which what
// disagrees is weighed down by Tukey's biweight, and the increment that they come to.
import { compose, invert, shift, type Transform } from '../raster/transform.js'
import {
  type Level,
  MAX_LISTED,
  MIN_PIXELS,
  type PlanarDonor,
  type PlanarReference,
} from './planar-picture.js'
import { sampleCubic } from './sample-cubic.js'
import { medianAndSigma } from './selection.js'
import { solveSymmetric } from './solve.js'

const TUKEY = 4.685
/** Coded footage differs from itself by this much, stops, however little grain it shows. */
const MIN_RESIDUAL = 0.01
/** How far the higher terms may drift, pixels at the picture's edge, where nothing in it holds them. */
const PRIOR_PX = 2
/** Samples that the scale of residuals is taken from. */
const SCALE_SAMPLE = 512

/** What one step comes to. */
export interface Fit {
  /** In pixels of the picture, at the edge of what counts. */
  readonly increment: Float64Array
  /** The most that it moves anything that counts by, pixels of the picture. */
  readonly moves: number
  readonly covariance: Float64Array
  /** Donor less reference. */
  readonly stops: number
}

/** Terms of the increment of what may lie between two pictures, simplest first. */
export const BASIS_SIZE = { shift: 2, similarity: 4, homography: 8 } as const
export type Model = keyof typeof BASIS_SIZE

const MAX_TERMS = 9

const normal = new Float64Array(MAX_TERMS * MAX_TERMS)
const right = new Float64Array(MAX_TERMS)
const terms = new Float64Array(MAX_TERMS)
const residuals = new Float32Array(MAX_LISTED)
const sample = new Float32Array(SCALE_SAMPLE)

// Long loops are functions of their own: a short one is compiled soon, and only once.

/** Donor less reference at the pixels of a level, NaN where the donor says nothing. @param back takes the level's pixels to the donor's @returns where it says something */
function residualsAt(
  { x, y, value }: Level,
  { picture: { width, height, data }, known }: PlanarDonor['levels'][number],
  back: Transform,
): number {
  let met = 0
  for (let i = 0; i < x.length; i++) {
    const w = back[6] * x[i] + back[7] * y[i] + back[8]
    const u = (back[0] * x[i] + back[1] * y[i] + back[2]) / w
    const v = (back[3] * x[i] + back[4] * y[i] + back[5]) / w
    if (
      !(u >= 1 && v >= 1 && u < width - 2 && v < height - 2) ||
      known[Math.round(v) * width + Math.round(u)] !== 1
    ) {
      residuals[i] = Number.NaN
      continue
    }
    residuals[i] = sampleCubic(data, width, u, v) - value[i]
    met++
  }
  return met
}

/** Adds the residuals of a level up to normal equations. @param flat variance of what grain alone leaves */
function addUp(
  reference: PlanarReference,
  level: number,
  centre: number,
  flat: number,
  looseness: number,
  size: number,
): void {
  const { factor, x, y, weight, gradientX, gradientY } = reference.levels[level]
  const count = size + 1
  const edge = looseness * looseness
  const { x: cx, y: cy, radius } = reference.centre
  const middle = (factor - 1) / 2
  terms[size] = 1
  for (let i = 0; i < x.length; i++) {
    const r = residuals[i] - centre
    const gx = gradientX[i]
    const gy = gradientY[i]
    const variance = flat + edge * (gx * gx + gy * gy)
    const uu = (r * r) / (TUKEY * TUKEY * variance)
    // NaN fails, too.
    if (!(uu < 1)) continue
    const weighed = (1 - uu) * (1 - uu) * weight[i] * (flat / variance)
    const u = (x[i] * factor + middle - cx) / radius
    const v = (y[i] * factor + middle - cy) / radius
    const ax = gx / factor
    const ay = gy / factor
    terms[0] = ax
    terms[1] = ay
    if (size === 4) {
      terms[2] = ax * u + ay * v
      terms[3] = ay * u - ax * v
    } else if (size === 8) {
      const radial = ax * u + ay * v
      terms[2] = ax * u
      terms[3] = ax * v
      terms[4] = ay * u
      terms[5] = ay * v
      terms[6] = -u * radial
      terms[7] = -v * radial
    }
    for (let a = 0; a < count; a++) {
      const t = weighed * terms[a]
      right[a] += t * r
      for (let b = a; b < count; b++) normal[a * MAX_TERMS + b] += t * terms[b]
    }
  }
}

/**
 * One step of Gauss and Newton at a level.
 *
 * @param looseness how far off edges may be, pixels of the picture
 * @param total     of the increments so far, which the prior pulls back
 * @returns null where too few pixels meet, or they leave the step open
 */
export function fitStep(
  reference: PlanarReference,
  donor: PlanarDonor,
  k: number,
  local: Transform,
  model: Model,
  looseness: number,
  total: Readonly<Float64Array>,
): Fit | null {
  const { factor, x } = reference.levels[k]
  const met = residualsAt(reference.levels[k], donor.levels[k], invert(atLevel(local, factor)))
  if (met < MIN_PIXELS / 2) return null
  const { centre, scale } = centreAndScale(x.length, met)
  const size = BASIS_SIZE[model]
  const count = size + 1
  normal.fill(0)
  right.fill(0)
  const flat = Math.max(scale, 1e-5) ** 2
  addUp(reference, k, centre, flat, looseness, size)
  const prior = Math.max(flat, MIN_RESIDUAL * MIN_RESIDUAL) / (PRIOR_PX * PRIOR_PX)
  for (let a = 0; a < size; a++) {
    normal[a * MAX_TERMS + a] += prior
    right[a] -= prior * total[a]
  }
  normal[size * MAX_TERMS + size] += 1e-9
  const solved = solveSymmetric(normal, right, count, MAX_TERMS)
  if (solved === null) return null
  const increment = solved.solution.slice(0, size)
  const spread = Math.max(flat, MIN_RESIDUAL * MIN_RESIDUAL)
  const covariance = new Float64Array(size * size)
  for (let a = 0; a < size; a++)
    for (let b = 0; b < size; b++) covariance[a * size + b] = spread * solved.inverse[a * count + b]
  return { increment, moves: lengthOf(increment), covariance, stops: centre + solved.solution[size] }
}

/** No less than the most that it moves anything within the radius. */
function lengthOf(increment: Readonly<Float64Array>): number {
  let sum = Math.hypot(increment[0], increment[1])
  if (increment.length === 4) sum += Math.hypot(increment[2], increment[3])
  if (increment.length === 8) {
    sum += Math.hypot(increment[2], increment[3], increment[4], increment[5])
    sum += Math.hypot(increment[6], increment[7])
  }
  return sum
}

/** The increment as a transform of the picture's own pixels. */
export function groupElement(
  p: Readonly<Float64Array>,
  model: Model,
  { x, y, radius }: PlanarReference['centre'],
): Transform {
  if (model === 'shift') return shift(p[0], p[1])
  const r = radius
  const [a, b, d, e, g, h] =
    model === 'similarity'
      ? [p[2] / r, -p[3] / r, p[3] / r, p[2] / r, 0, 0]
      : [p[2] / r, p[3] / r, p[4] / r, p[5] / r, p[6] / r, p[7] / r]
  // Of pixels counted from the centre; perspective terms per pixel.
  const about: Transform = [1 + a, b, p[0], d, 1 + e, p[1], g / r, h / r, 1]
  return compose(shift(x, y), compose(about, shift(-x, -y)))
}

/** The same transform between pixels of a level. */
function atLevel(local: Transform, factor: number): Transform {
  if (factor === 1) return local
  const middle = (factor - 1) / 2
  const up: Transform = [factor, 0, middle, 0, factor, middle, 0, 0, 1]
  const down: Transform = [1 / factor, 0, -middle / factor, 0, 1 / factor, -middle / factor, 0, 0, 1]
  return compose(down, compose(local, up))
}

function centreAndScale(n: number, met: number): { centre: number; scale: number } {
  const stride = Math.max(1, Math.ceil(met / SCALE_SAMPLE))
  let kept = 0
  let seen = 0
  for (let i = 0; i < n && kept < SCALE_SAMPLE; i++) {
    if (Number.isNaN(residuals[i])) continue
    if (seen++ % stride === 0) sample[kept++] = residuals[i]
  }
  const { median, sigma } = medianAndSigma(sample, kept)
  return { centre: median, scale: sigma }
}
