// What is known of a pair of frames without a look at the target's region, in numbers that grow with the error that is to be
// feared: how far the surrounds differ, how far the donor's region lies from what is seen of it round the target, how far
// apart they were shot. Differences are told against what the target's best donors have: a crowd round the target is as
// far from every donor, and says nothing against any of them.

import { cleanPlateOf } from '../../match/clean-plate.js'
import { insertInOrder } from '../../match/selection.js'
import type { Rect } from '../../raster/rect.js'
import { compose, invert, type Offset, shiftOf } from '../../raster/transform.js'
import type { Registered } from '../register.js'
import type { RegionPicture, RegionView, RingPairs } from './region-view.js'

/** Of a pair: six differences against the target's best, log; log of the frames between; stops; part of a pixel. */
export const FEATURES = 9
/** The differences among them: two of the surround, and those of the region. */
export const DIFFERENCES = 6
const RING = 2
const OWN = DIFFERENCES - RING
/** Whether the error can only rise with them: how an offset falls on the pixels may tell either way. */
export const RISING: readonly (0 | 1)[] = [1, 1, 1, 1, 1, 1, 1, 1, 0]

/** Unoccupied frames to either side that the target's region lies between. */
const SIDE_FRAMES = 3
/** ... within so many of the nearest of them: further away the region may be in another state. */
const SIDE_SPAN = 6
/** A frame that may show somebody's foot counts as so many times as far, and so many frames further. */
const PARTLY_TIMES = 2
const PARTLY_FRAMES = 8
/** Unoccupied frames whose blend stands in for the target's own region, and the frames over which they fade. */
const BLENDED = 8
const BLEND_FADE = 16
/** Frames nearest to the target whose agreement is the region's picture at that time. */
const LOCAL_FRAMES = 24
/** What another plate's frames count as, frames apart. */
const OTHER_PLATE_GAP = 10_000
/** Differences below this, code values or stops, are none. */
const LEAST = 1e-4
/** A side whose surround differs by less than this share of what the other's does is the one that the target shows. */
const TELLING_SHARE = 0.7
/** The target's best: this share of the donors differ less. */
const BEST_SHARE = 0.05

/** What the region is like round one moment, seen without the frames that are hidden. */
export interface Around {
  readonly before: readonly number[]
  readonly after: readonly number[]
  readonly blended: readonly { readonly frame: number; readonly share: number }[]
  readonly blend: Float32Array | null
  readonly local: Float32Array | null
}

/** A target against all donors. */
export interface TargetRow {
  /** FEATURES per donor, one after the other. */
  readonly features: Float32Array
  /** The target's best, log, per difference: how well it can be known at all. */
  readonly best: Float32Array
  readonly rings: RingPairs
}

export class PairFeatures {
  /**
   * @param unoccupied per frame of the view, above 0 where nobody passes the region, 2 where nothing of anybody does
   * @param window     over which offsets are told
   */
  constructor(
    readonly view: RegionView,
    readonly unoccupied: Readonly<Uint8Array>,
    readonly window: Rect,
  ) {}

  /**
   * @param target its place in the view's frames
   * @param hidden frames whose region is not known when the target's is asked for
   */
  around(target: number, hidden: (frame: number) => boolean): Around {
    const { view } = this
    const { frames } = view
    const seen = this.#seen(hidden)
    const gap = (i: number) => gapBetween(frames[target], frames[i])
    const free = this.nearest(target, seen)
    const blended = free.slice(0, BLENDED)
    const shares = blended.map((i) => Math.exp(-(gap(i) - gap(blended[0])) / BLEND_FADE))
    const all = shares.reduce((a, b) => a + b, 0)
    const parts = blended.map((i, k) => ({ frame: i, share: shares[k] / all }))
    return {
      ...this.#sides(target, free),
      blended: parts,
      blend: parts.length > 0 ? this.#blend(parts) : null,
      local: this.#local([...seen].sort((a, b) => gap(a) - gap(b)).slice(0, LOCAL_FRAMES)),
    }
  }

  /** The unoccupied frames next to a target on either side, as `around` has them. */
  sides(target: number, hidden: (frame: number) => boolean): Pick<Around, 'before' | 'after'> {
    return this.#sides(target, this.nearest(target, this.#seen(hidden)))
  }

  #sides(target: number, free: readonly number[]): Pick<Around, 'before' | 'after'> {
    const { frames } = this.view
    const { plate, frame } = frames[target]
    const own = free.filter((i) => frames[i].plate === plate)
    return {
      before: this.#together(own.filter((i) => frames[i].frame < frame)),
      after: this.#together(own.filter((i) => frames[i].frame > frame)),
    }
  }

  /**
   * How far the region before a moment lies from the one after it, by the middle pictures of both, mean square as `differences`
   * has it; null: one is not seen.
   */
  apart({ before, after }: Pick<Around, 'before' | 'after'>): number | null {
    const [one, two] = [before, after].map((frames) => this.view.middleOf(frames))
    return one && two && this.view.between(one, two)
  }

  /**
   * Does the surround next to the mask tell which of two sides a target shows? It does where the middle one of the frames on one
   * side is much nearer there than that of the other's; false where one side is not seen.
   */
  tellsSide(target: number, { before, after }: Pick<Around, 'before' | 'after'>): boolean {
    const near = [before, after].map((side) => {
      const found = this.view.ringsOf(target, Int32Array.from(side)).near.filter((off) => !Number.isNaN(off))
      return found.sort()[found.length >> 1]
    })
    return Math.min(...near) < TELLING_SHARE * Math.max(...near)
  }

  #seen(hidden: (frame: number) => boolean): number[] {
    const { view } = this
    return view.frames.flatMap((f, i) => (f.held && !hidden(i) && view.shows(i) ? [i] : []))
  }

  /** The unoccupied ones of some frames, those first that lie next to the target and show nothing of anybody. */
  nearest(target: number, some: readonly number[]): number[] {
    const { frames } = this.view
    const distance = (i: number) => {
      const gap = gapBetween(frames[target], frames[i])
      return this.unoccupied[i] === 2 ? gap : PARTLY_TIMES * gap + PARTLY_FRAMES
    }
    return some.filter((i) => this.unoccupied[i] > 0).sort((a, b) => distance(a) - distance(b))
  }

  /** The first few frames of one side; what is further from the first than that may show another state already. */
  #together(side: readonly number[]): number[] {
    const { frames } = this.view
    return side
      .filter((i) => Math.abs(frames[i].frame - frames[side[0]].frame) <= SIDE_SPAN)
      .slice(0, SIDE_FRAMES)
  }

  #blend(parts: Around['blended']): Float32Array {
    const out = new Float32Array(this.view.list.own.length)
    for (const { frame, share } of parts) {
      const { samples } = this.view.pictureOf(frame)
      for (let i = 0; i < out.length; i++) out[i] += share * samples[i]
    }
    return out
  }

  #local(frames: readonly number[]): Float32Array | null {
    if (frames.length === 0) return null
    const samples = frames.map((i) => this.view.samplesOf(i))
    return cleanPlateOf(this.view.workspace, samples, this.view.list.own.length).level
  }

  /** A target and donors on the surround. */
  rings(target: number, donors: Readonly<Int32Array>): RingPairs {
    return this.view.ringsOf(target, donors)
  }

  /**
   * @param donors  places in the view's frames
   * @param regions what `regionsOf` has of them round the target
   * @param even    the first so many of them are spread evenly over all frames: the target's best is told by them
   * @param rings   as `rings` has them
   */
  row(
    target: number,
    donors: Readonly<Int32Array>,
    regions: Readonly<Float32Array>,
    even = donors.length,
    rings = this.rings(target, donors),
  ): TargetRow {
    const { view, window } = this
    const { frames } = view
    const onto = invert(frames[target].pose)
    const features = new Float32Array(donors.length * FEATURES)
    const unseen = 4 * view.list.surroundSpread
    for (let k = 0; k < donors.length; k++) {
      const donor = frames[donors[k]]
      features[k * FEATURES] = log(known(rings.near[k], unseen))
      features[k * FEATURES + 1] = log(known(rings.residual[k], unseen))
      features[k * FEATURES + 7] = Math.abs(known(rings.stops[k], 0))
      for (let r = 0; r < OWN; r++) features[k * FEATURES + RING + r] = regions[k * OWN + r]
      features[k * FEATURES + 6] = Math.log(Math.max(1, gapBetween(frames[target], donor)))
      features[k * FEATURES + 8] = fraction(shiftOf(compose(onto, donor.pose), window))
    }
    return { features, best: takeBestOut(features, even), rings }
  }

  /** How far each donor's region lies from what is seen of it round a moment: a few numbers per donor, log. */
  regionsOf(around: Around, donors: Readonly<Int32Array>): Float32Array {
    const { view } = this
    const regions = new Float32Array(donors.length * OWN)
    const before = around.before.map((i) => view.pictureOf(i))
    const after = around.after.map((i) => view.pictureOf(i))
    const blend = around.blend && view.paint(0, around.blend)
    const local = around.local && view.paint(1, around.local)
    const differences = (picture: RegionPicture) => view.differences(picture, donors)
    const fromBefore = before.map(differences)
    const fromAfter = after.map(differences)
    const fromBlend = blend && differences(blend)
    const fromLocal = local && differences(local)
    const found = new Float64Array(SIDE_FRAMES)
    for (let k = 0; k < donors.length; k++) {
      const d = donors[k]
      const one = sideOf(around.before, fromBefore, d, k, found)
      const two = sideOf(around.after, fromAfter, d, k, found)
      const blended = fromBlend && blendedOf(around, fromBlend[k], d)
      const nearby = fromLocal?.[k] ?? null
      // Where one is not known, the others stand in for it.
      const other = blended ?? nearby ?? 1
      const at = k * OWN
      regions[at] = halfLog(Math.min(one ?? two ?? other, two ?? one ?? other))
      regions[at + 1] = halfLog(Math.max(one ?? two ?? other, two ?? one ?? other))
      regions[at + 2] = halfLog(blended ?? nearby ?? other)
      regions[at + 3] = halfLog(nearby ?? other)
    }
    return regions
  }
}

/**
 * The middle one of the differences from the pictures of one side, without the donor's own.
 *
 * @param differences from each of its pictures, per donor
 * @param k  the donor's place among them
 * @param found room for as many as there are pictures
 */
function sideOf(
  frames: readonly number[],
  differences: readonly Readonly<Float64Array>[],
  donor: number,
  k: number,
  found: Float64Array,
): number | null {
  let n = 0
  for (let i = 0; i < frames.length; i++) {
    if (frames[i] === donor) continue
    insertInOrder(found, n++, differences[i][k])
  }
  if (n === 0) return null
  const middle = n >> 1
  return n % 2 === 1 ? found[middle] : (found[middle - 1] + found[middle]) / 2
}

/** A donor that is part of the blend is held against the rest of it; null: there is none. */
function blendedOf({ blended }: Around, difference: number, donor: number): number | null {
  const share = blended.find((b) => b.frame === donor)?.share ?? 0
  return share < 1 ? difference / (1 - share) ** 2 : null
}

/** Frames between two, at least 1 where they differ; of different plates many. */
export function gapBetween(a: Registered, b: Registered): number {
  return a.plate === b.plate ? Math.abs(a.frame - b.frame) : OTHER_PLATE_GAP
}

/** How far an offset lies from whole pixels, 0 to 0.5. */
function fraction({ dx, dy }: Offset): number {
  return Math.max(Math.abs(dx - Math.round(dx)), Math.abs(dy - Math.round(dy)))
}

/** What stands in for a number that is not there. */
function known(value: number, otherwise: number): number {
  return Number.isNaN(value) ? otherwise : value
}

function log(difference: number): number {
  return Math.log(difference + LEAST)
}

/** The same of a squared difference. */
function halfLog(square: number): number {
  return log(Math.sqrt(square))
}

/** Takes from each difference what the best of the first `even` donors have of it, and returns that. */
function takeBestOut(features: Float32Array, even: number): Float32Array {
  const best = new Float32Array(DIFFERENCES)
  const column = new Float32Array(even)
  for (let c = 0; c < DIFFERENCES; c++) {
    for (let k = 0; k < even; k++) column[k] = features[k * FEATURES + c]
    best[c] = bestOf(column)
    for (let at = c; at < features.length; at += FEATURES) features[at] -= best[c]
  }
  return best
}

/** What the best twentieth of the values does not exceed; the values are put in order. */
export function bestOf(values: Float32Array | Float64Array): number {
  return values.sort()[Math.floor(BEST_SHARE * (values.length - 1))] ?? 0
}
