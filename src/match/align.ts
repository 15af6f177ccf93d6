// Finds the 2D offset that puts one picture on another: exhaustive at the coarsest level of a pyramid, carried down,
// then sub-pixel by robust least squares. B. D. Lucas, T. Kanade, An Iterative Image Registration Technique (1981), in
// the inverse form of S. Baker, I. Matthews, Lucas-Kanade 20 Years On (2004): gradients are taken on the reference.
import { halve, smooth } from '../raster/pyramid.js'
import { CUBIC, type Plane, plane, shiftPlane } from '../raster/shift.js'

/** Coarsest level: the reach there is at most this many pixels, so that the exhaustive search stays small. */
const COARSE_REACH = 4
/** A level must keep this many weighted pixels, or correlation over it says nothing. */
const LEAST_PIXELS = 48
/** Best offsets that are carried from level to level; repeated texture (boards, slats) needs more than one. */
const CARRIED = 3
const MOST_STEPS = 8
/** Steps shorter than this end the refinement: a tenth of the error that counts as exact (0.05 px). */
const STEP_DONE = 0.004
/** Tukey's biweight at 95 % efficiency (Huber, Robust Statistics): residuals beyond 4.685 sigma don't count. */
const TUKEY = 4.685
/** MAD to standard deviation for a normal distribution. */
const MAD_TO_SIGMA = 1.4826
/** How far the refinement may drift where the picture doesn't hold it (a flat wall, one straight edge). */
const PRIOR_SIGMA = 0.5

interface Level {
  readonly plane: Plane
  /** Indices into the plane of the pixels that count, and their weights. */
  readonly at: Int32Array
  readonly weight: Float32Array
}

/** A picture that many donors are aligned to, with all that depends on it alone. */
export interface Reference {
  readonly levels: readonly Level[]
  readonly smooth: Plane
  readonly gradientX: Float32Array
  readonly gradientY: Float32Array
}

export interface Alignment {
  /** Moves the donor onto the reference: reference(x, y) is donor(x - dx, y - dy). */
  readonly dx: number
  readonly dy: number
  /** Standard error of the offset in its worst direction, pixels; large where the picture has no texture to hold it. */
  readonly sigma: number
}

/**
 * Prepares a picture for `align`.
 *
 * @param picture log2 luminance, at plate position (x, y)
 * @param weight  0 or more per pixel of it; 0 leaves the pixel out
 */
export function prepareReference(picture: Plane, weight: Readonly<Float32Array>, reachPx: number): Reference {
  const levels: Level[] = []
  let current = picture
  let weights = weight
  let reach = reachPx
  for (;;) {
    levels.push(listPixels(current, weights))
    if (reach <= COARSE_REACH) break
    const next = halve(current)
    const nextWeights = halveWeights(weights, current.width, current.height)
    if (count(nextWeights) < LEAST_PIXELS) break
    current = next
    weights = nextWeights
    reach /= 2
  }
  const low = smooth(picture)
  return { levels, smooth: low, ...gradients(low) }
}

/**
 * The 2D offset that moves `donor` onto a prepared reference.
 *
 * @param donor    log2 luminance over at least the reference's rectangle grown by `reachPx` (edges are repeated beyond)
 * @param reachPx  largest offset looked for, pixels, either way
 * @param guess    where to start; with it the exhaustive search is skipped
 * @returns null where the reference has too few weighted pixels to align anything
 */
export function align(
  reference: Reference,
  donor: Plane,
  reachPx: number,
  guess?: { dx: number; dy: number },
): Alignment | null {
  if (reference.levels[0].at.length < LEAST_PIXELS) return null
  const start = guess ?? coarse(reference, donor, reachPx)
  return refine(reference, donor, reachPx, start)
}

interface Scored {
  dx: number
  dy: number
  ncc: number
}

function coarse(reference: Reference, donor: Plane, reachPx: number): { dx: number; dy: number } {
  const pyramid = [donor]
  for (let k = 1; k < reference.levels.length; k++) pyramid.push(halve(pyramid[k - 1]))
  const top = reference.levels.length - 1
  const reach = Math.ceil(reachPx / 2 ** top)
  let found: Scored[] = []
  for (let dy = -reach; dy <= reach; dy++) {
    for (let dx = -reach; dx <= reach; dx++) {
      found.push({
        dx,
        dy,
        ncc: nccAt(reference.levels[top], pyramid[top], dx, dy),
      })
    }
  }
  found = best(found)
  for (let k = top - 1; k >= 0; k--) {
    const next = new Map<string, Scored>()
    for (const { dx, dy } of found) {
      for (let y = 2 * dy - 1; y <= 2 * dy + 1; y++) {
        for (let x = 2 * dx - 1; x <= 2 * dx + 1; x++) {
          const key = `${x},${y}`
          if (Math.abs(x) > reachPx || Math.abs(y) > reachPx || next.has(key)) continue
          next.set(key, {
            dx: x,
            dy: y,
            ncc: nccAt(reference.levels[k], pyramid[k], x, y),
          })
        }
      }
    }
    found = best([...next.values()])
  }
  return found[0] ?? { dx: 0, dy: 0 }
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
  const { at, weight, plane: reference } = level
  const left = reference.x - donor.x - dx
  const top = reference.y - donor.y - dy
  const whole =
    left >= 0 && top >= 0 && left + reference.width <= donor.width && top + reference.height <= donor.height
  const rw = reference.width
  let w = 0
  let sr = 0
  let sd = 0
  let srr = 0
  let sdd = 0
  let srd = 0
  for (let i = 0; i < at.length; i++) {
    const index = at[i]
    const y = (index / rw) | 0
    const x = index - y * rw
    if (!whole && (x + left < 0 || x + left >= donor.width || y + top < 0 || y + top >= donor.height))
      continue
    const wi = weight[i]
    const r = reference.data[index]
    const d = donor.data[(y + top) * donor.width + x + left]
    w += wi
    sr += wi * r
    sd += wi * d
    srr += wi * r * r
    sdd += wi * d * d
    srd += wi * r * d
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
  reachPx: number,
  start: { dx: number; dy: number },
): Alignment {
  const { smooth: low, gradientX, gradientY } = reference
  const { at, weight } = reference.levels[0]
  const source = smooth(donor)
  const moved = plane(low.x, low.y, low.width, low.height)
  const scratch = new Float32Array(source.height * low.width)
  const residual = new Float32Array(at.length)
  let { dx, dy } = start
  let sigma = Number.POSITIVE_INFINITY
  for (let step = 0; step < MOST_STEPS; step++) {
    shiftPlane(source, dx, dy, moved, CUBIC, scratch)
    for (let i = 0; i < at.length; i++) residual[i] = moved.data[at[i]] - low.data[at[i]]
    const { centre, scale } = centreAndScale(residual)
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
    for (let i = 0; i < at.length; i++) {
      const r = residual[i] - centre
      const u = r / reachOfWeight
      if (u <= -1 || u >= 1) continue
      const k = (1 - u * u) * (1 - u * u) * weight[i]
      const gx = gradientX[at[i]]
      const gy = gradientY[at[i]]
      xx += k * gx * gx
      xy += k * gx * gy
      yy += k * gy * gy
      x1 += k * gx
      y1 += k * gy
      ww += k
      xr += k * gx * r
      yr += k * gy * r
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
    const least = (a + c - Math.sqrt((a - c) * (a - c) + 4 * b * b)) / 2
    sigma = scale / Math.sqrt(Math.max(least, 1e-12))
    if (length < STEP_DONE) break
  }
  const within = Math.abs(dx) <= reachPx + 0.5 && Math.abs(dy) <= reachPx + 0.5
  return within && Number.isFinite(dx + dy)
    ? { dx, dy, sigma }
    : { ...start, sigma: Number.POSITIVE_INFINITY }
}

/** Median and MAD-based sigma, from a sorted sample of at most a few thousand residuals: exact enough, and cheap. */
function centreAndScale(residual: Float32Array): {
  centre: number
  scale: number
} {
  const stride = Math.max(1, Math.floor(residual.length / 2048))
  const sample = new Float32Array(Math.ceil(residual.length / stride))
  for (let i = 0, j = 0; i < residual.length; i += stride, j++) sample[j] = residual[i]
  sample.sort()
  const centre = sample[sample.length >> 1]
  for (let i = 0; i < sample.length; i++) sample[i] = Math.abs(sample[i] - centre)
  sample.sort()
  return { centre, scale: MAD_TO_SIGMA * sample[sample.length >> 1] }
}

function gradients(picture: Plane): {
  gradientX: Float32Array
  gradientY: Float32Array
} {
  const { width, height, data } = picture
  const gradientX = new Float32Array(data.length)
  const gradientY = new Float32Array(data.length)
  for (let y = 0, i = 0; y < height; y++) {
    const up = y > 0 ? width : 0
    const down = y < height - 1 ? width : 0
    for (let x = 0; x < width; x++, i++) {
      const left = x > 0 ? 1 : 0
      const right = x < width - 1 ? 1 : 0
      gradientX[i] = left + right > 0 ? (data[i + right] - data[i - left]) / (left + right) : 0
      gradientY[i] =
        up + down > 0 ? (data[i + down] - data[i - up]) / ((up > 0 ? 1 : 0) + (down > 0 ? 1 : 0)) : 0
    }
  }
  return { gradientX, gradientY }
}

function listPixels(picture: Plane, weight: Readonly<Float32Array>): Level {
  const at = new Int32Array(count(weight))
  const kept = new Float32Array(at.length)
  for (let i = 0, j = 0; i < weight.length; i++) {
    if (weight[i] > 0) {
      at[j] = i
      kept[j++] = weight[i]
    }
  }
  return { plane: picture, at, weight: kept }
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
