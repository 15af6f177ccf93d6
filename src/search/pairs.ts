// One target frame with one donor frame on the surround: what such a comparison costs once per search, once per frame and
// once per pair. The match matrix makes all pairs of a shot; a borrow asks for those of its run alone.

import type { Workspace } from '../kernels/workspace.js'
import { explainedSpread } from '../match/clean.js'
import {
  type Centred,
  nccOfSums,
  type PairSums,
  residualOfSums,
  stopsOfSums,
  sumCentred,
} from '../match/ncc.js'
import type { Rect } from '../raster/rect.js'
import type { RegionFrame } from '../region/region.js'
import type { Steps } from '../turns.js'
import { type PixelLists, pixelLists, steadyPixels } from './pixel-lists.js'
import { offsetBetween, type Registered, type Registration } from './register.js'

/** What is known of one target frame against one donor frame. NaN never occurs: absent is null. */
export interface Pair {
  readonly ncc: number | null
  /** Target over donor on the surround, log base 2. */
  readonly stops: number | null
  /** RMS on the surround after the light is matched, over what grain alone gives; null: nothing valid. */
  readonly seam: number | null
  /** Expected likeness inside the region, dB; null out of reach, and where it is not asked for. */
  readonly expected: number | null
  /** Share of the region that shows the clean plate; null where the region is empty, and where it is not asked for. */
  readonly clean: number | null
}

/** Target frames against donor frames, by their places in the two lists. */
export interface Pairs {
  readonly targets: readonly Registered[]
  readonly donors: readonly Registered[]
  pair(target: number, donor: number): Pair
  /** Per frame, 1 over the window where its pixel is good and nobody passes. */
  readonly steady: ReadonlyMap<Registered, Uint8Array>
  /** Frames of the search in order, and the surround's pixels under the first target frame's mask. */
  readonly frames: readonly Registered[]
  readonly surround: Readonly<Int32Array>
  readonly window: Rect
}

/** A frame's surround about its mean, and a weight per sample: 0 where it may not be compared. */
export interface Ring<Weight extends Float32Array | Uint8Array> {
  readonly samples: Centred
  readonly weight: Weight
}

/** A target's ring against a donor's; all as in `Pair`. */
export interface RingMatch extends Pick<Pair, 'ncc' | 'stops' | 'seam'> {
  /** RMS of the difference after the light is matched, stops. */
  readonly residual: number
}

/** Least share of the surround that must be left to compare. */
const MIN_SHARED = 0.2

const APART: Pair = { ncc: null, stops: null, seam: null, expected: null, clean: null }

/** How far a donor may be moved, and over which rectangle that is told. */
export interface Reach {
  readonly window: Rect
  readonly reachPx: number
}

/** True where a donor can be compared at all: another frame, with a pose, that lies within the reach of the target. */
export function isWithinReach(target: Registered, donor: Registered, { window, reachPx }: Reach): boolean {
  if (donor === target || !donor.held) return false
  const { dx, dy } = offsetBetween(target, donor, window)
  return Math.abs(dx) <= reachPx + 0.5 && Math.abs(dy) <= reachPx + 0.5
}

/**
 * @param weight as many as `compared`; in the workspace nothing is copied when they are compared
 * @param samples the same
 */
export function ringOf<Weight extends Float32Array | Uint8Array>(
  frame: Registered,
  steady: Readonly<Uint8Array>,
  compared: Readonly<Int32Array>,
  weight: Weight,
  samples: Float32Array,
): Ring<Weight> {
  return { samples: { base: layRing(frame.aligned, steady, compared, weight, samples), samples }, weight }
}

/** A function of its own, over arrays alone: a short loop is compiled soon. @returns what the samples are taken about */
function layRing(
  aligned: Readonly<Float32Array>,
  steady: Readonly<Uint8Array>,
  places: Readonly<Int32Array>,
  weight: Float32Array | Uint8Array,
  samples: Float32Array,
): number {
  let sum = 0
  let n = 0
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    weight[k] = steady[i]
    if (steady[i] === 0) continue
    samples[k] = aligned[i]
    sum += aligned[i]
    n++
  }
  const base = n > 0 ? sum / n : 0
  for (let k = 0; k < places.length; k++) samples[k] = weight[k] === 0 ? 0 : samples[k] - base
  return base
}

/**
 * The numbers are rounded to float32, in which a matrix holds them.
 *
 * @param spread RMS on the surround of the spread that grain explains, stops
 * @returns null where too little of the surround is seen in both
 */
function matchRings(
  workspace: Workspace,
  target: Ring<Float32Array>,
  donor: Ring<Uint8Array>,
  spread: number,
): RingMatch | null {
  const sums = sumCentred(workspace, target.samples, donor.samples, target.weight, donor.weight)
  return matchOf(sums, target.weight.length, spread)
}

/**
 * As `matchRings`, of sums that are there already.
 *
 * @param pixels of the surround that are compared
 */
export function matchOf(sums: PairSums, pixels: number, spread: number): RingMatch | null {
  const residual = residualOf(sums, pixels)
  if (residual === null) return null
  return {
    ncc: single(nccOfSums(sums)),
    stops: single(stopsOfSums(sums)),
    seam: single(residual / (Math.SQRT2 * spread)),
    residual,
  }
}

/** The residual alone; null where too little of the surround is seen in both. */
export function residualOf(sums: PairSums, pixels: number): number | null {
  return sums.weight < MIN_SHARED * pixels ? null : (residualOfSums(sums) ?? 0)
}

/** Compares pairs when they are asked for, through one mask. Nothing is said of the region, only of the surround. */
export class PairMaker {
  readonly #list: PixelLists
  readonly #spread: Float32Array
  /** Of target frames, which every run shares. */
  readonly #steady = new Map<Registered, Uint8Array>()

  constructor(
    readonly workspace: Workspace,
    readonly registration: Registration,
    mask: RegionFrame,
    readonly reachPx: number,
  ) {
    const { cleanPlate, minSpread } = registration
    this.#spread = explainedSpread(cleanPlate, mask.surround, minSpread)
    this.#list = pixelLists(mask, this.#spread, minSpread)
  }

  *of(targets: readonly Registered[], donors: readonly Registered[]): Steps<Pairs> {
    const { frames, window } = this.registration
    const steady = new Map<Registered, Uint8Array>()
    for (const f of targets) {
      yield
      const seen = this.#steady.get(f) ?? this.#steadyOf(f)
      this.#steady.set(f, seen)
      steady.set(f, seen)
    }
    for (const f of donors) {
      yield
      if (!steady.has(f)) steady.set(f, this.#steady.get(f) ?? this.#steadyOf(f))
    }
    return {
      targets,
      donors,
      pair: (t, d) => this.#pair(targets[t], donors[d], steady),
      steady,
      frames,
      surround: this.#list.surround,
      window,
    }
  }

  #steadyOf({ aligned, validity, exposure }: Registered): Uint8Array {
    const { level } = this.registration.cleanPlate
    return steadyPixels(this.workspace, { aligned, validity, exposure, level, spread: this.#spread })
  }

  #pair(target: Registered, donor: Registered, steady: ReadonlyMap<Registered, Uint8Array>): Pair {
    if (!isWithinReach(target, donor, { window: this.registration.window, reachPx: this.reachPx }))
      return APART
    const { compared, surroundSpread } = this.#list
    const n = compared.length
    const match = this.workspace.within((scratch) => {
      const mine = ringOf(target, steady.get(target)!, compared, scratch.floats(n), scratch.floats(n))
      const theirs = ringOf(donor, steady.get(donor)!, compared, scratch.bytes(n), scratch.floats(n))
      return matchRings(this.workspace, mine, theirs, surroundSpread)
    })
    return match === null ? APART : { ...APART, ncc: match.ncc, stops: match.stops, seam: match.seam }
  }
}

function single(value: number | null): number | null {
  const rounded = Math.fround(value ?? Number.NaN)
  return Number.isFinite(rounded) ? rounded : null
}
