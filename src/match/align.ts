// Finds the 2D offset that puts one picture on another: exhaustive at the coarsest level of a pyramid, carried down,
// then sub-pixel by robust least squares. B. D. Lucas, T. Kanade, An Iterative Image Registration Technique (1981), in
// the inverse form of S. Baker, I. Matthews, Lucas-Kanade 20 Years On (2004): gradients are taken on the reference.
import { doubles, floats, kernels, pointer } from '../raster/memory.js'
import { halve, smooth } from '../raster/pyramid.js'
import type { Plane } from '../raster/shift.js'
import { medianAndSigma } from './order.js'
import { type DetailLevel, detailOf, type Reference, sampleInto, squash } from './reference.js'

/** A picture whose variance is below this share of its mean square is flat: what float32 sums round away. */
const FLAT = 1e-6
/** A picture must have this many weighted pixels, or correlation over it says nothing. */
const LEAST_PIXELS = 48
/** Best offsets that are carried from level to level; repeated texture (boards, slats) needs more than one. */
const CARRIED = 3
const MOST_STEPS = 8
/** Steps shorter than this end the refinement: a tenth of the error that counts as exact (0.05 px). */
const STEP_DONE = 0.004
/** Tukey's biweight at 95 % efficiency (Huber, Robust Statistics): residuals beyond 4.685 sigma don't count. */
const TUKEY = 4.685
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
 * @returns null where the reference has too few weighted pixels to align anything
 */
export function align(
  reference: Reference,
  donor: Plane,
  reachPx: number,
  { guess, low = smooth(donor) }: { guess?: { dx: number; dy: number }; low?: Plane } = {},
): Alignment | null {
  if (reference.low.counted < LEAST_PIXELS) return null
  const start = guess ?? coarse(reference, donor, reachPx)
  return refine(reference, donor, low, reachPx, start)
}

interface Scored {
  dx: number
  dy: number
  ncc: number
}

function coarse(reference: Reference, donor: Plane, reachPx: number): { dx: number; dy: number } {
  const { levels } = reference
  const pyramid = [donor]
  for (let k = 1; k < levels.length; k++) {
    const { width, height } = pyramid[k - 1]
    pyramid.push(halve(pyramid[k - 1], floats(`level ${k}`, (width >> 1) * (height >> 1))))
  }
  const top = levels.length - 1
  // The finest level's detail is mostly grain; the refinement finds its way from one pixel off.
  const last = Math.min(top, 1)
  const reach = Math.ceil(reachPx / 2 ** top)
  let found: Scored[] = []
  for (let k = top; k >= last; k--) {
    const detail = detailOf(pyramid[k])
    squash(detail.data, levels[k].knee)
    const ncc = correlation(levels[k], detail)
    if (k === top) {
      for (let dy = -reach; dy <= reach; dy++) {
        for (let dx = -reach; dx <= reach; dx++) found.push({ dx, dy, ncc: ncc(dx, dy) })
      }
    } else {
      found = closer(found, reachPx / 2 ** k, ncc)
    }
    found = best(found)
  }
  const { dx, dy } = found[0] ?? { dx: 0, dy: 0 }
  return { dx: dx * 2 ** last, dy: dy * 2 ** last }
}

/** The neighbourhoods, one level finer, of what was found. */
function closer(found: readonly Scored[], reach: number, at: Correlate): Scored[] {
  const next = new Map<string, Scored>()
  for (const { dx, dy } of found) {
    for (let y = 2 * dy - 1; y <= 2 * dy + 1; y++) {
      for (let x = 2 * dx - 1; x <= 2 * dx + 1; x++) {
        const key = `${x},${y}`
        if (Math.abs(x) > reach || Math.abs(y) > reach || next.has(key)) continue
        next.set(key, { dx: x, dy: y, ncc: at(x, y) })
      }
    }
  }
  return [...next.values()]
}

/** The best few, no two of them neighbours: one peak is carried down once. Ties go to the smaller offset. */
function best(scored: Scored[]): Scored[] {
  scored.sort((a, b) => b.ncc - a.ncc || Math.hypot(a.dx, a.dy) - Math.hypot(b.dx, b.dy))
  const kept: Scored[] = []
  for (const s of scored) {
    if (kept.some((k) => Math.abs(k.dx - s.dx) <= 1 && Math.abs(k.dy - s.dy) <= 1)) continue
    if (kept.push(s) === CARRIED) break
  }
  return kept
}

/** Correlation by whole-pixel offset; -2 where nothing can be said (flat, or outside the donor's rectangle). */
type Correlate = (dx: number, dy: number) => number

/**
 * What the reference alone contributes is looked up by the corners of the part that is seen: F. C. Crow, Summed-Area
 * Tables for Texture Mapping (1984).
 *
 * @param donor squashed detail, in the kernels' memory
 */
function correlation(level: DetailLevel, donor: Plane): Correlate {
  const { width, height, step, summed } = level
  const weight = pointer(level.weight, 'weight')
  const product = pointer(level.product, 'product')
  const from = pointer(donor.data, 'source')
  const sums = doubles('sums', 3)
  return (dx, dy) => {
    const left = level.x - donor.x - dx
    const top = level.y - donor.y - dy
    const x0 = Math.max(0, -left)
    const x1 = Math.min(width, donor.width - left)
    const y0 = Math.ceil(Math.max(0, -top) / step) * step
    const y1 = Math.min(height, donor.height - top)
    if (x0 >= x1 || y0 >= y1) return -2
    const at = 4 * (y0 * width + x0)
    const donorAt = from + 4 * ((y0 + top) * donor.width + x0 + left)
    kernels.correlate(
      weight + at,
      product + at,
      width,
      donorAt,
      donor.width,
      x1 - x0,
      y1 - y0,
      step,
      sums.byteOffset,
    )
    const w = within(summed[0], width + 1, x0, y0, x1, y1)
    if (w <= 0) return -2
    const sr = within(summed[1], width + 1, x0, y0, x1, y1)
    const srr = within(summed[2], width + 1, x0, y0, x1, y1)
    const vr = srr - (sr * sr) / w
    const vd = sums[1] - (sums[0] * sums[0]) / w
    if (vr <= FLAT * srr || vd <= FLAT * sums[1]) return -2
    return (sums[2] - (sr * sums[0]) / w) / Math.sqrt(vr * vd)
  }
}

/** A rectangle's sum from a table of sums. */
function within(
  table: Readonly<Float64Array>,
  stride: number,
  x0: number,
  y0: number,
  x1: number,
  y1: number,
): number {
  return table[y1 * stride + x1] - table[y0 * stride + x1] - table[y1 * stride + x0] + table[y0 * stride + x0]
}

function refine(
  reference: Reference,
  donor: Plane,
  low: Plane,
  reachPx: number,
  start: { dx: number; dy: number },
): Alignment {
  const { gradientX, gradientY } = reference
  const { weight, value } = reference.low
  const n = weight.length
  const residual = floats('residual', n)
  const sample = floats('sample', Math.min(n, SCALE_SAMPLE))
  let { dx, dy } = start
  let hold: Hold = { x: 1, y: 0, oneWay: false, sigma: Number.POSITIVE_INFINITY }
  for (let step = 0; step < MOST_STEPS; step++) {
    sampleInto(low, reference.low, dx, dy, residual)
    for (let i = 0; i < n; i++) residual[i] -= value[i]
    const { centre, scale } = centreAndScale(residual, sample)
    // Normal equations for (ex, ey, bias) under Tukey's weights.
    let xx = 0
    let xy = 0
    let yy = 0
    let x1 = 0
    let y1 = 0
    let ww = 0
    let xr = 0
    let yr = 0
    let rr = 0
    const reachOfWeight = TUKEY * Math.max(scale, 1e-6)
    for (let i = 0; i < n; i++) {
      const r = residual[i] - centre
      const u = r / reachOfWeight
      if (u <= -1 || u >= 1) continue
      const k = (1 - u * u) * (1 - u * u) * weight[i]
      const kx = k * gradientX[i]
      const ky = k * gradientY[i]
      xx += kx * gradientX[i]
      xy += kx * gradientY[i]
      yy += ky * gradientY[i]
      x1 += kx
      y1 += ky
      ww += k
      xr += kx * r
      yr += ky * r
      rr += k * r
    }
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
    if (length < STEP_DONE) break
  }
  const along = dx * hold.x + dy * hold.y
  const across = { dx: along * hold.x, dy: along * hold.y }
  if (hold.oneWay && !earnsIts(reference, donor, { dx, dy }, across)) {
    // One straight edge holds the offset across it and says nothing of the rest, which stays 0.
    dx = across.dx
    dy = across.dy
  }
  const within = Math.abs(dx) <= reachPx + 0.5 && Math.abs(dy) <= reachPx + 0.5
  if (!within || !Number.isFinite(dx + dy)) return { ...start, sigma: Number.POSITIVE_INFINITY }
  return { dx, dy, sigma: hold.sigma }
}

/** A correlation must be larger by this many of its standard errors to be more than the luckiest of many tries. */
const EARNS_SIGMA = 5
/** Pixels that count as independent: detail is wider than a pixel, so of a dense picture only a share is. */
const MOST_INDEPENDENT = 6000

/** Does the whole offset correlate clearly better than the part of it that an edge holds? */
function earnsIts(
  { levels }: Reference,
  donor: Plane,
  whole: { dx: number; dy: number },
  held: { dx: number; dy: number },
): boolean {
  const level = levels[0]
  const detail = detailOf(donor)
  squash(detail.data, level.knee)
  const ncc = correlation(level, detail)
  const at = ({ dx, dy }: { dx: number; dy: number }) => ncc(Math.round(dx), Math.round(dy))
  const gain = at(whole) - at(held)
  // Standard error of a correlation of n independent pixels near 0, after R. A. Fisher (1915).
  return gain * Math.sqrt(Math.min(level.compared, MOST_INDEPENDENT)) > EARNS_SIGMA
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
