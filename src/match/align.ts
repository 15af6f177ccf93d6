// Finds the 2D offset that puts one picture on another: exhaustive at the coarsest level of a pyramid, carried down,
// then sub-pixel by robust least squares. B. D. Lucas, T. Kanade, An Iterative Image Registration Technique (1981), in
// the inverse form of S. Baker, I. Matthews, Lucas-Kanade 20 Years On (2004): gradients are taken on the reference.
import { boxBlur, halve, smooth } from '../raster/pyramid.js'
import { Scratch } from '../raster/scratch.js'
import { CUBIC, type Plane, taps } from '../raster/shift.js'
import { medianAndSigma } from './order.js'
import { noiseSigma } from './texture.js'

/** Coarsest level: the reach there is at most this many pixels, so that the exhaustive search stays small. */
const COARSE_REACH = 4
/** A picture must have this many weighted pixels, or correlation over it says nothing. */
const LEAST_PIXELS = 48
/** A coarser level must keep this many: with fewer votes the luckiest of its offsets beats the true one. */
const LEAST_VOTES = 500
/** Radius in pixels of the mean that is taken off a level as light. */
const DETAIL_RADIUS = 4
/** Best offsets that are carried from level to level; repeated texture (boards, slats) needs more than one. */
const CARRIED = 3
/**
 * Pixels compared at a level: more hardly sharpen the answer. At 6,000 the error of the offset on the quayside's wall is
 * 0.002 px, a tenth of what shows.
 */
const MOST_PIXELS = 6000
const MOST_STEPS = 8
/** Steps shorter than this end the refinement: a tenth of the error that counts as exact (0.05 px). */
const STEP_DONE = 0.004
/** Tukey's biweight at 95 % efficiency (Huber, Robust Statistics): residuals beyond 4.685 sigma don't count. */
const TUKEY = 4.685
/**
 * Grain has gradients too, and they hold nothing. Of white noise the binomial low pass keeps (70 / 256)^2 of the variance
 * and a central difference of that 0.3; half as much again for grain that is not quite white.
 */
const GRAIN_GRADIENT = 1.5 * 0.3 * (70 / 256) ** 2
/** An offset whose standard error is larger than this, in pixels, is not held. */
export const HELD_SIGMA = 0.35
/** How far the refinement may drift where the picture doesn't hold it (a flat wall, one straight edge). */
const PRIOR_SIGMA = 0.5

/** The pixels of a level that are compared: positions in its plane, samples and weights side by side. */
interface Level {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
  /** How many pixels count in all; of many, an even share is listed. */
  readonly counted: number
  readonly column: Int32Array
  readonly row: Int32Array
  readonly value: Float32Array
  readonly weight: Float32Array
}

interface DetailLevel extends Level {
  /** Detail of this strength, stops, is squashed to a half. */
  readonly knee: number
}

/** A picture that many donors are aligned to, with all that depends on it alone. */
export interface Reference {
  /** Finest first; squashed detail, for the search in whole pixels. */
  readonly levels: readonly DetailLevel[]
  /** The finest level's pixels in the smoothed picture, with its gradients there. */
  readonly low: Level
  readonly gradientX: Float32Array
  readonly gradientY: Float32Array
  /** Mean square of the gradient that is grain, either way. */
  readonly grainGradient: number
  readonly scratch: Scratch
}

export interface Alignment {
  /** Moves the donor onto the reference: reference(x, y) is donor(x - dx, y - dy). */
  readonly dx: number
  readonly dy: number
  /** Standard error of the offset in the worst direction that is held, pixels; large where no texture holds any. */
  readonly sigma: number
}

/**
 * Prepares a picture for `align`.
 *
 * @param picture log2 luminance, at plate position (x, y)
 * @param weight  0 or more per pixel of it; 0 leaves the pixel out
 */
export function prepareReference(picture: Plane, weight: Readonly<Float32Array>, reachPx: number): Reference {
  const scratch = new Scratch()
  const levels: DetailLevel[] = []
  let current = picture
  let weights = weight
  let reach = reachPx
  for (;;) {
    const detail = detailOf(current, scratch)
    const knee = kneeOf(detail.data, weights)
    squash(detail.data, knee)
    levels.push({ ...listPixels(detail, weights), knee })
    if (reach <= COARSE_REACH) break
    const next = halve(current)
    const nextWeights = halveWeights(weights, current.width, current.height)
    if (count(nextWeights) < LEAST_VOTES) break
    current = next
    weights = nextWeights
    reach /= 2
  }
  const smoothed = smooth(picture)
  const low = listPixels(smoothed, weight)
  const grain = noiseSigma(picture.data, picture.width, weight) ?? 0
  return { levels, low, ...gradients(smoothed, low), grainGradient: GRAIN_GRADIENT * grain * grain, scratch }
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
  const { levels, scratch } = reference
  const pyramid = [donor]
  for (let k = 1; k < levels.length; k++) {
    const { width, height } = pyramid[k - 1]
    pyramid.push(halve(pyramid[k - 1], scratch.take(`level ${k}`, (width >> 1) * (height >> 1))))
  }
  const top = levels.length - 1
  // The finest level's detail is mostly grain; the refinement finds its way from one pixel off.
  const last = Math.min(top, 1)
  const reach = Math.ceil(reachPx / 2 ** top)
  let found: Scored[] = []
  for (let k = top; k >= last; k--) {
    const detail = detailOf(pyramid[k], scratch)
    squash(detail.data, levels[k].knee)
    if (k === top) {
      for (let dy = -reach; dy <= reach; dy++) {
        for (let dx = -reach; dx <= reach; dx++) found.push({ dx, dy, ncc: nccAt(levels[k], detail, dx, dy) })
      }
    } else {
      found = closer(found, reachPx / 2 ** k, (dx, dy) => nccAt(levels[k], detail, dx, dy))
    }
    found = best(found)
  }
  const { dx, dy } = found[0] ?? { dx: 0, dy: 0 }
  return { dx: dx * 2 ** last, dy: dy * 2 ** last }
}

/** The neighbourhoods, one level finer, of what was found. */
function closer(found: readonly Scored[], reach: number, at: (dx: number, dy: number) => number): Scored[] {
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

/** What is coarser than grain and finer than light, from about 2 to 2 * DETAIL_RADIUS pixels: in `scratch`, till the next. */
function detailOf(picture: Plane, scratch: Scratch): Plane {
  const { length } = picture.data
  const out = smooth(picture, scratch.take('detail', length), scratch)
  const light = boxBlur(picture, DETAIL_RADIUS, scratch.take('light', length), scratch).data
  for (let i = 0; i < length; i++) out.data[i] -= light[i]
  return out
}

/** Median strength of the detail that counts, and more than nothing. */
function kneeOf(detail: Readonly<Float32Array>, weight: Readonly<Float32Array>): number {
  const stride = Math.max(1, Math.floor(detail.length / 4096))
  const strengths: number[] = []
  for (let i = 0; i < detail.length; i += stride) if (weight[i] > 0) strengths.push(Math.abs(detail[i]))
  strengths.sort((a, b) => a - b)
  return Math.max(1e-5, 2 * (strengths[strengths.length >> 1] ?? 0))
}

/**
 * Bends detail so that strong and faint count nearly alike: the offset is then what most of the picture agrees on. In a
 * plain correlation one dark coat against a bright wall outweighs the wall, and the wall is what the camera moves with.
 */
function squash(detail: Float32Array, knee: number): void {
  for (let i = 0; i < detail.length; i++) detail[i] /= knee + Math.abs(detail[i])
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

/** Correlation at a whole-pixel offset; -2 where nothing can be said (flat, or outside the donor's rectangle). */
function nccAt(level: Level, donor: Plane, dx: number, dy: number): number {
  const { column, row, value, weight } = level
  const left = level.x - donor.x - dx
  const top = level.y - donor.y - dy
  const { width, height, data } = donor
  const whole = left >= 0 && top >= 0 && left + level.width <= width && top + level.height <= height
  let w = 0
  let sr = 0
  let sd = 0
  let srr = 0
  let sdd = 0
  let srd = 0
  for (let i = 0; i < column.length; i++) {
    const x = column[i] + left
    const y = row[i] + top
    if (!whole && (x < 0 || x >= width || y < 0 || y >= height)) continue
    const wi = weight[i]
    const r = value[i]
    const d = data[y * width + x]
    const wd = wi * d
    w += wi
    sr += wi * r
    sd += wd
    srr += wi * r * r
    sdd += wd * d
    srd += wd * r
  }
  if (w === 0) return -2
  const vr = srr - (sr * sr) / w
  const vd = sdd - (sd * sd) / w
  if (vr <= 1e-9 * srr || vd <= 1e-9 * sdd) return -2
  return (srd - (sr * sd) / w) / Math.sqrt(vr * vd)
}

function refine(
  reference: Reference,
  donor: Plane,
  low: Plane,
  reachPx: number,
  start: { dx: number; dy: number },
): Alignment {
  const { gradientX, gradientY, scratch } = reference
  const { weight, value } = reference.low
  const n = weight.length
  const residual = scratch.take('residual', n)
  const sample = scratch.take('sample', Math.min(n, SCALE_SAMPLE))
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

/** Does the whole offset correlate clearly better than the part of it that an edge holds? */
function earnsIts(
  { levels, scratch }: Reference,
  donor: Plane,
  whole: { dx: number; dy: number },
  held: { dx: number; dy: number },
): boolean {
  const level = levels[0]
  const detail = detailOf(donor, scratch)
  squash(detail.data, level.knee)
  const at = (offset: { dx: number; dy: number }) =>
    nccAt(level, detail, Math.round(offset.dx), Math.round(offset.dy))
  const gain = at(whole) - at(held)
  // Standard error of a correlation of n independent pixels near 0, after R. A. Fisher (1915).
  return gain * Math.sqrt(level.column.length) > EARNS_SIGMA
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

/**
 * A donor against the reference at its listed pixels, moved by (dx, dy): what differs, stops.
 *
 * @param donor smoothed as the reference is
 * @param out   receives donor minus reference, `reference.low.value.length` samples
 */
export function differenceAt(
  reference: Reference,
  donor: Plane,
  dx: number,
  dy: number,
  out: Float32Array,
): void {
  const { low } = reference
  sampleInto(donor, low, dx, dy, out)
  for (let i = 0; i < low.value.length; i++) out[i] -= low.value[i]
}

/** The donor, moved by (dx, dy), at a level's listed pixels; its edge samples are repeated beyond it. */
function sampleInto(donor: Plane, level: Level, dx: number, dy: number, out: Float32Array): void {
  const across = taps(dx, CUBIC)
  const down = taps(dy, CUBIC)
  const { width, height, data } = donor
  const { column, row } = level
  const left = level.x - donor.x + across.start
  const top = level.y - donor.y + down.start
  const wx = across.weights
  const wy = down.weights
  const nx = wx.length
  const ny = wy.length
  for (let i = 0; i < column.length; i++) {
    const x = column[i] + left
    const y = row[i] + top
    let sum = 0
    if (nx === 4 && ny === 4 && x >= 0 && y >= 0 && x + 4 <= width && y + 4 <= height) {
      let at = y * width + x
      for (let k = 0; k < 4; k++, at += width) {
        sum += wy[k] * (wx[0] * data[at] + wx[1] * data[at + 1] + wx[2] * data[at + 2] + wx[3] * data[at + 3])
      }
    } else {
      for (let v = 0; v < ny; v++) {
        const line = Math.min(Math.max(y + v, 0), height - 1) * width
        for (let u = 0; u < nx; u++)
          sum += wy[v] * wx[u] * data[line + Math.min(Math.max(x + u, 0), width - 1)]
      }
    }
    out[i] = sum
  }
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

/** Central differences at a level's listed pixels, one-sided at the picture's edge. */
function gradients(
  picture: Plane,
  { column, row }: Level,
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

function listPixels(picture: Plane, weight: Readonly<Float32Array>): Level {
  const { x, y, width, height, data } = picture
  const counted = count(weight)
  const listed = Math.min(counted, MOST_PIXELS)
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
  return { x, y, width, height, counted, column, row, value, weight: kept }
}

/** A half-size pixel counts only where all four of its pixels do, so that nothing masked leaks in. */
function halveWeights(weight: Readonly<Float32Array>, width: number, height: number): Float32Array {
  const w = width >> 1
  const h = height >> 1
  const out = new Float32Array(w * h)
  for (let y = 0, i = 0; y < h; y++) {
    let a = 2 * y * width
    for (let x = 0; x < w; x++, i++, a += 2) {
      out[i] = Math.min(weight[a], weight[a + 1], weight[a + width], weight[a + width + 1])
    }
  }
  return out
}

function count(weight: Readonly<Float32Array>): number {
  let n = 0
  for (let i = 0; i < weight.length; i++) if (weight[i] > 0) n++
  return n
}
