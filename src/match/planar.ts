// Lays one picture on another under a plane transform: a shift, a similarity, or the homography that a camera makes that
// turns about its lens. Robust least squares from coarse to fine in the inverse compositional form of S. Baker,
// I. Matthews, Lucas-Kanade 20 Years On (2004), section 3.2: gradients are taken on the reference. What moves on its own
// disagrees with the rest and is weighed down (P. J. Huber, Robust Statistics, 1981; Tukey's biweight).
import type { Rect } from '../raster/rect.js'
import { apply, compose, invert, scaledToOne, shift, type Transform } from '../raster/transform.js'
import { MIN_PIXELS, type PlanarDonor, type PlanarReference } from './planar-picture.js'
import { BASIS_SIZE, type Fit, fitStep, groupElement, type Model } from './planar-step.js'
import { sampleCubic } from './sample-cubic.js'

const MAX_STEPS = 10
/** Steps shorter than this, pixels of the level, end the finest level, and one that leads to it. */
const STEP_DONE = 0.004
const LEADING_DONE = 0.04
/** How far off edges may be while the start is not refined, where a coarser level has led to it, and at the end: see align.ts. */
const LOOSE_PX = 1
const LED_PX = 0.25
const FIRM_PX = 0.05

export interface Laid {
  /** Takes the donor's pixels to their places on the reference. */
  readonly transform: Transform
  /** Share of the reference's pixels that the donor shows there, 0 to 1. */
  readonly overlap: number
  /** Correlation of their squashed detail over these, -1 to 1. */
  readonly ncc: number
  /** The donor's log2 luminance less the reference's over these, as most of them have it, stops. */
  readonly stops: number
  /** RMS error of places to be expected over a rectangle of the reference, pixels; infinite where nothing holds them. */
  sigmaOver(rect: Rect): number
}

/**
 * Refines a start to where the donor lies on the reference.
 *
 * @param start takes the donor's pixels to about their places on the reference
 * @param options.coarsest the level at which refining begins, at most; 0: the pictures' own pixels
 * @returns null where they do not overlap enough, or it leads nowhere
 */
export function layPlanar(
  reference: PlanarReference,
  donor: PlanarDonor,
  start: Transform,
  model: Model,
  { coarsest = 99 }: { readonly coarsest?: number } = {},
): Laid | null {
  const size = BASIS_SIZE[model]
  const total = new Float64Array(size)
  let local = between(reference, donor, start)
  const top = Math.min(reference.levels.length - 1, donor.levels.length - 1, coarsest)
  let last: Fit | null = null
  for (let k = top; k >= 0; k--) {
    let looseness = k === top ? LOOSE_PX : LED_PX
    for (let step = 0; step < MAX_STEPS; step++) {
      last = fitStep(reference, donor, k, local, model, looseness, total)
      if (last === null) return null
      const { increment, moves } = last
      // No further than the linear model can tell: a pixel or two of the level.
      const held = Math.min(1, (2 * reference.levels[k].factor) / Math.max(1e-9, moves))
      const scaled = increment.map((v) => v * held)
      for (let i = 0; i < size; i++) total[i] += scaled[i]
      local = compose(groupElement(scaled, model, reference.centre), local)
      const length = (moves * held) / reference.levels[k].factor
      const done = looseness <= (k === 0 ? FIRM_PX : 0.25)
      looseness = Math.max(FIRM_PX, Math.min(looseness / 2, length))
      if (length < (k === 0 ? STEP_DONE : LEADING_DONE) && done) break
    }
  }
  const transform = compose(
    shift(reference.rect.x, reference.rect.y),
    compose(scaledToOne(local), shift(-donor.rect.x, -donor.rect.y)),
  )
  if (!transform.every(Number.isFinite)) return null
  const fitted = fitStep(reference, donor, 0, local, model, FIRM_PX, total)
  if (fitted === null) return null
  const { overlap, ncc } = agreement(reference, donor, local)
  const { rect, centre } = reference
  return {
    transform,
    overlap,
    ncc,
    stops: fitted.stops,
    sigmaOver: (over) =>
      sigmaOver(fitted.covariance, model, centre, { ...over, x: over.x - rect.x, y: over.y - rect.y }),
  }
}

/** How well two pictures agree as a transform lays the donor on the reference. */
export function agreementAt(
  reference: PlanarReference,
  donor: PlanarDonor,
  transform: Transform,
): Pick<Laid, 'overlap' | 'ncc'> {
  return agreement(reference, donor, between(reference, donor, transform))
}

/** @param local between the pictures' own corners */
function agreement(
  { levels: [finest], detail }: PlanarReference,
  donor: PlanarDonor,
  local: Transform,
): { overlap: number; ncc: number } {
  const back = invert(local)
  const { known } = donor.levels[0]
  const { width, height } = donor.detail
  let [n, all, a, b, aa, bb, ab] = [0, 0, 0, 0, 0, 0, 0]
  for (let k = 0; k < finest.x.length; k++) {
    all++
    const { x, y } = apply(back, finest.x[k], finest.y[k])
    if (!(x >= 1 && y >= 1 && x < width - 2 && y < height - 2)) continue
    if (known[Math.round(y) * width + Math.round(x)] !== 1) continue
    const value = sampleCubic(donor.detail.data, width, x, y)
    n++
    a += detail[k]
    b += value
    aa += detail[k] * detail[k]
    bb += value * value
    ab += detail[k] * value
  }
  const [va, vb] = [aa - (a * a) / n, bb - (b * b) / n]
  return {
    overlap: n / all,
    ncc: n > MIN_PIXELS / 2 && va > 0 && vb > 0 ? (ab - (a * b) / n) / Math.sqrt(va * vb) : 0,
  }
}

/** A transform of plate pixels between the pictures' own corners. */
function between({ rect }: PlanarReference, donor: PlanarDonor, transform: Transform): Transform {
  return compose(shift(-rect.x, -rect.y), compose(transform, shift(donor.rect.x, donor.rect.y)))
}

/** RMS over the corners and the middle of a rectangle of the standard error of places. */
function sigmaOver(
  covariance: Readonly<Float64Array>,
  model: Model,
  { x: cx, y: cy, radius }: PlanarReference['centre'],
  { x, y, w, h }: Rect,
): number {
  const size = BASIS_SIZE[model]
  let sum = 0
  const places = [
    [x, y],
    [x + w, y],
    [x, y + h],
    [x + w, y + h],
    [x + w / 2, y + h / 2],
  ]
  for (const [px, py] of places) {
    const u = (px - cx) / radius
    const v = (py - cy) / radius
    const across = size === 2 ? [1, 0] : size === 4 ? [1, 0, u, -v] : [1, 0, u, v, 0, 0, -u * u, -u * v]
    const down = size === 2 ? [0, 1] : size === 4 ? [0, 1, v, u] : [0, 1, 0, 0, u, v, -u * v, -v * v]
    for (const basis of [across, down])
      for (let a = 0; a < size; a++)
        for (let b = 0; b < size; b++) sum += basis[a] * basis[b] * covariance[a * size + b]
  }
  return Math.sqrt(sum / places.length)
}
