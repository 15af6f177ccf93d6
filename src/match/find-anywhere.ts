// Where a picture lies on another when nothing is known of it: every size, turn and place is tried on small pictures, by
// correlation of their detail, and the best few are refined.
import { softSign } from '../kernels/detail.js'
import { halve } from '../kernels/pyramid.js'
import { resample } from '../kernels/resample.js'
import type { Workspace } from '../kernels/workspace.js'
import { BILINEAR } from '../raster/filters.js'
import { type Plane, plane } from '../raster/plane.js'
import { moveMarks } from '../raster/resample.js'
import { apply, compose, invert, shift, type Transform } from '../raster/transform.js'
import { detailOf, kneeOf } from './detail.js'
import { Fourier, type Spectra } from './fourier.js'
import { halfBits } from './half-bits.js'
import { type Laid, layPlanar } from './planar.js'
import type { PlanarDonor, PlanarReference } from './planar-picture.js'

/** Both are brought down to so many pixels of the longer side: enough to tell places apart, quick to try. */
const TRIED_PX = 56
/** Sizes are tried this far either way, in steps of this factor: half a step is a pixel at the edge. */
const MAX_SIZE = 2.1
const SIZE_STEP = 1.055
/** Turns that are tried, radians: a tripod's and a hand's. */
const TURNS = [0, -0.05, 0.05, -0.1, 0.1]
/** Of both pictures at least this share of the smaller must overlap. */
const MIN_OVERLAP = 0.25
/** Tries that are refined; where only places are unknown. */
const REFINED = 8
const REFINED_SHIFTS = 3
/** Tries nearer to each other than this, pixels tried, are one. */
const NEAR_PX = 3

/** A picture to be found, or to be found on. */
export interface Sought {
  /** log2 luminance. */
  readonly picture: Plane
  /** 1 where it says something. */
  readonly known: Readonly<Uint8Array>
}

interface Tried {
  readonly transform: Transform
  readonly ncc: number
}

/** Tries every place on a reference; what depends on the reference alone is worked out once. */
export class AnywhereFinder {
  readonly #small: { picture: Plane; known: Uint8Array; factor: number }
  readonly #fourier: Fourier
  readonly #spectra: Spectra

  constructor(
    readonly workspace: Workspace,
    reference: Sought,
  ) {
    this.#small = smallOf(workspace, reference)
    const { width, height } = this.#small.picture
    // Room for a donor of up to twice the size, most of which may lie beside it.
    this.#fourier = Fourier.forPictures(2.2 * width, 2.2 * height)
    this.#spectra = this.#fourier.spectraOf(squashed(workspace, this.#small), this.#small.known)
  }

  /**
   * The likeliest transforms that take the donor's pixels to their places on the reference, best first.
   *
   * @param sizes   the donor's pixels in the reference's, about: 1 unless plates have other numbers of pixels
   * @param onlyShift sizes and turns are known to be alike
   */
  tries(
    donor: Sought,
    { size = 1, onlyShift = false }: { readonly size?: number; readonly onlyShift?: boolean } = {},
  ): Transform[] {
    const small = smallOf(this.workspace, donor)
    const found: Tried[] = []
    for (const factor of onlyShift ? [1] : sizesTried())
      for (const turn of onlyShift ? [0] : TURNS)
        found.push(...this.#at(small, (size * factor * small.factor) / this.#small.factor, turn))
    found.sort((a, b) => b.ncc - a.ncc)
    const kept: Tried[] = []
    const { width, height } = this.#small.picture
    for (const one of found) {
      const near = kept.some((k) => distance(k.transform, one.transform, width, height) < NEAR_PX)
      if (!near && kept.push(one) === (onlyShift ? REFINED_SHIFTS : REFINED)) break
    }
    const up = scaling(this.#small.factor)
    const down = invert(scaling(small.factor))
    const { picture } = donor
    return kept.map(({ transform }) =>
      compose(compose(up, compose(transform, down)), shift(-picture.x, -picture.y)),
    )
  }

  /** The best places at one size and turn, between small pictures. */
  #at(donor: { picture: Plane; known: Uint8Array }, size: number, turn: number): Tried[] {
    const { width, height } = this.#fourier
    const [c, s] = [size * Math.cos(turn), size * Math.sin(turn)]
    const { picture, known } = donor
    // Turned about its middle, then moved so that all of it lies right of and below 0.
    const about: Transform = [c, -s, 0, s, c, 0, 0, 0, 1]
    const corners = [
      [0, 0],
      [picture.width - 1, 0],
      [0, picture.height - 1],
      [picture.width - 1, picture.height - 1],
    ].map(([x, y]) => apply(about, x, y))
    const left = Math.floor(Math.min(...corners.map((p) => p.x)))
    const top = Math.floor(Math.min(...corners.map((p) => p.y)))
    const w = Math.ceil(Math.max(...corners.map((p) => p.x))) - left + 1
    const h = Math.ceil(Math.max(...corners.map((p) => p.y))) - top + 1
    if (w + this.#small.picture.width > width * 1.4 || h + this.#small.picture.height > height * 1.4)
      return []
    const moved = compose(shift(-left, -top), about)
    const shown = plane(0, 0, Math.min(w, width), Math.min(h, height))
    resample(this.workspace, picture, moved, shown, BILINEAR)
    const seen = new Uint8Array(shown.width * shown.height)
    moveMarks({ rect: { x: 0, y: 0, w: picture.width, h: picture.height }, data: known }, moved, {
      rect: { x: 0, y: 0, w: shown.width, h: shown.height },
      data: seen,
    })
    const spectra = this.#fourier.spectraOf(squashed(this.workspace, { picture: shown, known: seen }), seen)
    const least = MIN_OVERLAP * Math.min(count(seen), count(this.#small.known))
    const correlated = this.#fourier.correlate(this.#spectra, spectra, least)
    return best(correlated, width, height).map(({ dx, dy, ncc }) => ({
      transform: compose(shift(dx, dy), moved),
      ncc,
    }))
  }
}

/**
 * Refines tries and returns the one that agrees best; null where none does.
 *
 * @param leastNcc below this correlation two pictures are not of one place
 */
export function bestOfTries(
  reference: PlanarReference,
  donor: PlanarDonor,
  tries: readonly Transform[],
  leastNcc: number,
): Laid | null {
  let found: Laid | null = null
  for (const start of tries) {
    const near = layPlanar(reference, donor, start, 'similarity')
    const laid = near === null ? null : layPlanar(reference, donor, near.transform, 'homography')
    if (
      laid !== null &&
      laid.ncc >= leastNcc &&
      laid.overlap > 0.15 &&
      (found === null || laid.ncc > found.ncc)
    )
      found = laid
  }
  return found
}

function sizesTried(): number[] {
  const steps = Math.floor(Math.log(MAX_SIZE) / Math.log(SIZE_STEP))
  return Array.from({ length: 2 * steps + 1 }, (_, i) => SIZE_STEP ** (i - steps))
}

/** Detail of both sizes of picture looks alike, as it is taken after they are brought to one size. */
function squashed(
  workspace: Workspace,
  { picture, known }: { readonly picture: Plane; readonly known: Uint8Array },
): Plane {
  const detail = detailOf(workspace, picture)
  softSign(workspace, detail.data, kneeOf(detail.data, Float32Array.from(known)))
  return detail
}

/** The best few peaks. */
function best(
  correlated: Float64Array,
  width: number,
  height: number,
): { dx: number; dy: number; ncc: number }[] {
  const peaks: { dx: number; dy: number; ncc: number }[] = []
  for (let k = 0; k < 3; k++) {
    let at = 0
    for (let i = 1; i < correlated.length; i++) if (correlated[i] > correlated[at]) at = i
    const ncc = correlated[at]
    if (!(ncc > 0)) break
    const [x, y] = [at % width, Math.floor(at / width)]
    peaks.push({ dx: x < width / 2 ? x : x - width, dy: y < height / 2 ? y : y - height, ncc })
    for (let v = -3; v <= 3; v++)
      for (let u = -3; u <= 3; u++)
        correlated[((y + v + height) % height) * width + ((x + u + width) % width)] = 0
  }
  return peaks
}

function smallOf(
  workspace: Workspace,
  { picture, known }: Sought,
): { picture: Plane; known: Uint8Array; factor: number } {
  let current: Plane = { ...picture, x: 0, y: 0 }
  let bits = Uint8Array.from(known)
  let factor = 1
  while (Math.max(current.width, current.height) >= 2 * TRIED_PX) {
    bits = halfBits(bits, current.width, current.height)
    current = { ...halve(workspace, current), x: 0, y: 0 }
    factor *= 2
  }
  const rest = Math.max(1, Math.max(current.width, current.height) / TRIED_PX)
  const small = plane(0, 0, Math.floor(current.width / rest), Math.floor(current.height / rest))
  const down = invert(scaling(rest))
  resample(workspace, current, down, small, BILINEAR)
  const smallBits = new Uint8Array(small.data.length)
  moveMarks({ rect: { x: 0, y: 0, w: current.width, h: current.height }, data: bits }, down, {
    rect: { x: 0, y: 0, w: small.width, h: small.height },
    data: smallBits,
  })
  return { picture: small, known: smallBits, factor: factor * rest }
}

/** From a small picture's pixels to those it was made of. */
function scaling(factor: number): Transform {
  const middle = (factor - 1) / 2
  return [factor, 0, middle, 0, factor, middle, 0, 0, 1]
}

function distance(a: Transform, b: Transform, width: number, height: number): number {
  let most = 0
  for (const [x, y] of [
    [0, 0],
    [width, height],
  ]) {
    const [p, q] = [apply(a, x, y), apply(b, x, y)]
    most = Math.max(most, Math.hypot(p.x - q.x, p.y - q.y))
  }
  return most
}

function count(bits: Readonly<Uint8Array>): number {
  let n = 0
  for (const b of bits) n += b
  return n
}
