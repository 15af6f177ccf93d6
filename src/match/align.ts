// Finds the 2D offset that puts one picture on another: in whole pixels by correlation (coarse.ts),
// then sub-pixel by robust least squares. B. D. Lucas, T. Kanade, An Iterative Image Registration Technique (1981), in
// the inverse form of S. Baker, I. Matthews, Lucas-Kanade 20 Years On (2004): gradients are taken on the reference.
import { NORMAL_SUMS, normalEquations } from '../kernels/correlate.js'
import { smooth } from '../kernels/pyramid.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
import type { Plane } from '../raster/plane.js'
import type { Offset } from '../raster/transform.js'
import { coarse } from './coarse.js'
import { correlation } from './detail.js'
import { differenceAt, type Listed, type Reference } from './reference.js'
import { medianAndSigma } from './selection.js'

/** A picture must have this many weighted pixels, or correlation over it says nothing. */
const MIN_PIXELS = 48
const MAX_STEPS = 8
/** Steps shorter than this end the refinement: a tenth of the error that counts as exact (0.05 px). */
const STEP_DONE = 0.004
/** Tukey's biweight at 95 % efficiency (Huber, Robust Statistics): residuals beyond 4.685 sigma don't count. */
const TUKEY = 4.685
/**
 * How far off the start may be, pixels: whole pixels are looked for on a picture of half the size. So long as the offset is
 * off by that much, an edge differs by as much of its gradient and is no passer-by; robust weights that know only the
 * grain of a plain wall leave out the very edges that tell the offset.
 */
const LOOSE_PX = 1
/**
 * An edge is never trusted closer than this share of its gradient, pixels: codecs and filters shape edges. Of 0.02, 0.05
 * and 0.1 the one that served planted sway on two coded plates best.
 */
const FIRM_PX = 0.05
/** An offset whose standard error is larger than this, in pixels, is not held. */
export const HELD_SIGMA = 0.35
/** How far the refinement may drift where the picture doesn't hold it (a flat wall, one straight edge). */
const PRIOR_SIGMA = 0.5

export interface Alignment {
  /** Moves the donor onto the reference: reference(x, y) is donor(x - dx, y - dy). */
  readonly dx: number
  readonly dy: number
  /** Standard error of the offset in the worst direction that is held, pixels; large where no texture holds any. */
  readonly sigma: number
}

/**
 * The 2D offset that moves `donor` onto a prepared reference.
 *
 * @param donor    log2 luminance over at least the reference's rectangle grown by `reachPx` (edges are repeated beyond)
 * @param reachPx  largest offset looked for, pixels, either way
 * @param options.guess where to start; with it the exhaustive search is skipped
 * @param options.low   the donor smoothed, where the caller has it already
 * @param options.holes 1 on the donor's pixels that say nothing, over the donor; null: every one speaks
 * @returns null where the reference has too few weighted pixels to align anything
 */
export function align(
  workspace: Workspace,
  reference: Reference,
  donor: Plane,
  reachPx: number,
  {
    guess,
    low = smooth(workspace, donor),
    holes = null,
  }: { guess?: { dx: number; dy: number }; low?: Plane; holes?: Readonly<Uint8Array> | null } = {},
): Alignment | null {
  if (reference.low.counted < MIN_PIXELS) return null
  const start = guess ?? coarse(workspace, reference, donor, reachPx)
  return workspace.within((scratch) =>
    refine(workspace, scratch, reference, donor, low, reachPx, start, holes),
  )
}

function refine(
  workspace: Workspace,
  scratch: Scratch,
  reference: Reference,
  donor: Plane,
  low: Plane,
  reachPx: number,
  start: { dx: number; dy: number },
  holes: Readonly<Uint8Array> | null,
): Alignment {
  const n = reference.low.value.length
  const holesOut = holes ? scratch.floats(n) : null
  const weight = holesOut ?? reference.low.weight
  const residual = scratch.floats(n)
  const sums = scratch.doubles(NORMAL_SUMS)
  const { gradientX, gradientY } = reference
  const differences = { gradientX, gradientY, residual, weight }
  const sample = scratch.floats(Math.min(n, SCALE_SAMPLE))
  let { dx, dy } = start
  let hold: Hold = { x: 1, y: 0, oneWay: false, sigma: Number.POSITIVE_INFINITY }
  let looseness = LOOSE_PX
  for (let step = 0; step < MAX_STEPS; step++) {
    if (holes && holesOut) leaveHolesOut(reference.low, donor, holes, dx, dy, holesOut)
    differenceAt(workspace, reference, low, dx, dy, residual)
    const { centre, scale } = centreAndScale(residual, sample)
    const flat = Math.max(scale, 1e-6) ** 2
    const under = { centre, flat, edge: looseness * looseness, tukey: TUKEY }
    normalEquations(workspace, differences, under, sums)
    const [xx, xy, yy, x1, y1, ww, xr, yr, rr] = sums
    if (ww === 0) break
    // The bias is eliminated; a weak prior about the start keeps untextured directions where they were.
    const prior = (scale * scale + 1e-12) / (PRIOR_SIGMA * PRIOR_SIGMA)
    const a = xx - (x1 * x1) / ww + prior
    const b = xy - (x1 * y1) / ww
    const c = yy - (y1 * y1) / ww + prior
    const u = xr - (x1 * rr) / ww - prior * (dx - start.dx)
    const v = yr - (y1 * rr) / ww - prior * (dy - start.dy)
    const det = a * c - b * b
    if (!(det > 0)) break
    const ex = (c * u - b * v) / det
    const ey = (a * v - b * u) / det
    const length = Math.hypot(ex, ey)
    const held = length > 1 ? 1 / length : 1
    dx += held * ex
    dy += held * ey
    hold = holdOf(a, b, c, reference.grainGradient * ww, Math.sqrt(scale * scale + 1e-12))
    const done = looseness <= FIRM_PX
    looseness = Math.max(FIRM_PX, Math.min(looseness / 2, length))
    if (length < STEP_DONE && done) break
  }
  const along = dx * hold.x + dy * hold.y
  const across = { dx: along * hold.x, dy: along * hold.y }
  if (hold.oneWay && !earnsIts(workspace, reference, donor, { dx, dy }, across)) {
    // One straight edge holds the offset across it and says nothing of the rest, which stays 0.
    dx = across.dx
    dy = across.dy
  }
  const within = Math.abs(dx) <= reachPx + 0.5 && Math.abs(dy) <= reachPx + 0.5
  if (!within || !Number.isFinite(dx + dy)) return { ...start, sigma: Number.POSITIVE_INFINITY }
  return { dx, dy, sigma: hold.sigma }
}

/** The reference's weights, 0 where the donor has a hole. */
function leaveHolesOut(
  { x, y, column, row, weight }: Listed,
  donor: Plane,
  holes: Readonly<Uint8Array>,
  dx: number,
  dy: number,
  out: Float32Array,
): void {
  const left = x - donor.x - Math.round(dx)
  const top = y - donor.y - Math.round(dy)
  for (let k = 0; k < out.length; k++) {
    const u = column[k] + left
    const v = row[k] + top
    const within = u >= 0 && v >= 0 && u < donor.width && v < donor.height
    out[k] = within && holes[v * donor.width + u] === 1 ? 0 : weight[k]
  }
}

/** A correlation must be larger by this many of its standard errors to be more than the luckiest of many tries. */
const EARNS_SIGMA = 5
/** Pixels that count as independent: detail is wider than a pixel, so of a dense picture only a share is. */
const MAX_INDEPENDENT = 6000

/** Does the whole offset correlate clearly better than the part of it that an edge holds? */
function earnsIts(
  workspace: Workspace,
  reference: Reference,
  donor: Plane,
  whole: Offset,
  held: Offset,
): boolean {
  const [there, here] = correlationsAt(workspace, reference, donor, [whole, held])
  const independent = Math.min(reference.levels[0].compared, MAX_INDEPENDENT)
  // Standard error of a correlation of n independent pixels near 0, after R. A. Fisher (1915).
  return (there - here) * Math.sqrt(independent) > EARNS_SIGMA
}

/** Correlation of the finest detail with the reference's at some offsets, rounded to whole pixels; -2: see `Correlate`. */
export function correlationsAt(
  workspace: Workspace,
  { levels }: Reference,
  donor: Plane,
  offsets: readonly Offset[],
): number[] {
  return workspace.within((scratch) => {
    const ncc = correlation(workspace, scratch, levels[0], donor)
    return offsets.map(({ dx, dy }) => ncc(Math.round(dx), Math.round(dy)))
  })
}

/** How firmly texture holds an offset: its strongest direction (a unit vector), and the error of what it holds. */
interface Hold {
  readonly x: number
  readonly y: number
  /** True where only the strongest direction is held. */
  readonly oneWay: boolean
  readonly sigma: number
}

/** The eigenvalues of the normal equations' 2 x 2 matrix [a b; b c], less what grain alone puts into each. */
function holdOf(a: number, b: number, c: number, grain: number, scale: number): Hold {
  const spread = Math.sqrt((a - c) * (a - c) + 4 * b * b)
  const strong = (a + c + spread) / 2 - grain
  const weak = (a + c - spread) / 2 - grain
  const angle = Math.atan2(2 * b, a - c) / 2
  const sigmaOf = (texture: number) => scale / Math.sqrt(Math.max(texture, 1e-12))
  const oneWay = sigmaOf(weak) > HELD_SIGMA
  return { x: Math.cos(angle), y: Math.sin(angle), oneWay, sigma: sigmaOf(oneWay ? strong : weak) }
}

/** Residuals that median and MAD are taken from: exact enough, and cheap to sort. */
const SCALE_SAMPLE = 1024

/** Median and MAD-based sigma. @param sample scratch of at least min(residual.length, SCALE_SAMPLE) */
function centreAndScale(
  residual: Readonly<Float32Array>,
  scratch: Float32Array,
): { centre: number; scale: number } {
  const stride = Math.max(1, Math.ceil(residual.length / SCALE_SAMPLE))
  let n = 0
  for (let i = 0; i < residual.length; i += stride) scratch[n++] = residual[i]
  const { median, sigma } = medianAndSigma(scratch, n)
  return { centre: median, scale: sigma }
}
