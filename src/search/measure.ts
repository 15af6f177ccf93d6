// A draft made into a candidate: every pair it uses measured, its numbers summed up, scored and judged.

import type { Workspace } from '../kernels/workspace.js'
import { EYE_LIMIT_STOPS } from '../match/min-spread.js'
import { gradientEnergy } from '../match/texture.js'
import { CUBIC, shiftPower } from '../raster/filters.js'
import { IDENTITY, type Offset } from '../raster/transform.js'
import type { Region } from '../region/region.js'
import type { Steps } from '../turns.js'
import type { CandidateKind } from './kinds.js'
import { lifeOf } from './life.js'
import type { Measures } from './measures.js'
import { least, mean, rms, round, roundedOffset, weightedMean } from './over-frames.js'
import type { Pair, Pairs } from './pairs.js'
import type { PieceMap } from './piece-map-schema.js'
import { offsetBetween, type Registered } from './register.js'
import type { Candidate, FrameMatch } from './result.js'
import { judge, type Seen, scoreOf } from './score.js'

const EVEN: [number, number, number] = [1, 1, 1]

/** A way to fill the range before it is measured: for every target frame, the donors (columns) with their shares. */
export interface Draft {
  readonly kind: CandidateKind
  readonly id: string
  readonly plate: number
  readonly timeOffset: number | null
  /** One row per target frame; a single share of 1 unless it is a stack or mosaic, or a relay dissolves there. */
  readonly shares: readonly (readonly { readonly column: number; readonly weight: number }[])[]
  /** Expected squared error over the range, in units of the matrix (1 is the best clean donor's), its worst frame weighing more. */
  readonly cost: number
  /** The same without that: the mean of all frames; a borrow has none. */
  readonly meanCost?: number
  /** Of a stack, what its donors cost in the mean, each by its share. */
  readonly donorsCost?: number
  readonly mosaic?: MosaicDraft
}

/** Of a frame's shares the largest; of several the first. */
export function leadOf(shares: Draft['shares'][number]): Draft['shares'][number][number] {
  return shares.reduce((a, b) => (b.weight > a.weight ? b : a))
}

/** An expected error: the middle and, with nine chances in ten, the ends of where it lies, dB. */
export interface Expected {
  readonly db: number
  readonly low: number
  readonly high: number
  /** With nineteen chances in twenty, no more than so many dB worse than the best single donor of the footage. */
  readonly shortfall: number
}

/** What a mosaic is beside its shares, which are those of its pieces in the region. */
export interface MosaicDraft {
  /** Its numbers are the places of the pieces in every frame's shares. */
  readonly map: PieceMap
  /** Share of the region that lenders show as it is when it is empty, per target frame. */
  readonly clean: readonly number[]
  /** RMS difference along the borders of its pieces, over what grain alone gives. */
  readonly seam: number
}

/** What is not known of the region's clean plate, each a reason in words or null. */
export interface RegionDoubt {
  /** No picture of the region is known that the target does not show itself: why nothing can be called clean. */
  readonly unknown: string | null
  /** The picture that is taken for empty may not be: why nothing holds up without a look. */
  readonly doubt: string | null
}

/** Measures drafts of one search; what depends on a frame alone is worked out once. */
export class Measurer {
  #lifeFound: number | null | undefined
  /** By target frame and column: drafts share most pairs. */
  readonly #sharpnesses = new Map<Registered, Map<number, number | null>>()

  /**
   * @param noiseOf a frame's noise on the surround, stops
   * @param state   what is known of the region's clean plate; a borrow needs none
   * @param errors  what a mean cost comes to inside the region, and of a stack that of its donors; a borrow has none
   */
  constructor(
    readonly workspace: Workspace,
    readonly region: Region,
    readonly pairs: Pairs,
    readonly noiseOf: (f: Registered) => number | null,
    readonly state: RegionDoubt = { unknown: null, doubt: null },
    readonly errors: ((meanCost: number, donorsCost?: number) => Expected) | null = null,
  ) {}

  /**
   * The candidate with its numbers, its gains still 1: see gains.ts.
   *
   * @param doubt why this one does not hold up without a look
   */
  *candidate(draft: Draft, doubt: string | null = this.state.doubt): Steps<Candidate> {
    const { id, kind, plate, timeOffset } = draft
    const { measures, frames, interval } = yield* this.measure(draft)
    return {
      id,
      kind,
      donor: plate,
      timeOffset,
      score: scoreOf(measures, kind),
      ...this.#judged(measures, kind, doubt, interval),
      ...measures,
      interval,
      frames,
      ...(draft.mosaic ? { map: draft.mosaic.map } : {}),
    }
  }

  /** The candidate with its reasons as what will be seen. @param doubt as it was measured with */
  explained(candidate: Candidate, doubt: string | null, seen: Seen): Candidate {
    return {
      ...candidate,
      ...this.#judged(candidate, candidate.kind, doubt, candidate.interval ?? null, seen),
    }
  }

  #judged(
    measures: Measures,
    kind: CandidateKind,
    doubt: string | null,
    interval: readonly [low: number, high: number] | null,
    seen: Seen = {},
  ) {
    const noCorrelation =
      measures.ncc === null ? 'the surround is too flat, clipped or hidden to correlate' : null
    return judge(measures, kind, {
      noCorrelation,
      noClean: this.state.unknown,
      doubt,
      interval,
      seen,
    })
  }

  /** The numbers alone, over the range and frame by frame. */
  *measure({
    shares,
    meanCost,
    donorsCost,
    mosaic,
  }: Pick<Draft, 'shares' | 'meanCost' | 'donorsCost' | 'mosaic'>): Steps<{
    measures: Measures
    frames: FrameMatch[]
    interval: [low: number, high: number] | null
  }> {
    const { targets } = this.pairs
    const frames: FrameMatch[] = []
    for (const [t, target] of targets.entries()) {
      yield
      frames.push(this.#frame(target, t, shares[t], mosaic))
    }
    const expected = meanCost === undefined ? null : (this.errors?.(meanCost, donorsCost) ?? null)
    /** Of a mosaic the mean over its pieces, each by its area and as if it were alone. */
    const ofPieces = (t: number, value: (s: Draft['shares'][number]) => number | null) =>
      mosaic
        ? weightedMean(shares[t].map((share) => [value([{ ...share, weight: 1 }]), share.weight]))
        : value(shares[t])
    const measures = {
      ncc: mean(frames.map((f) => f.ncc)),
      stops: mean(frames.map((f) => f.stops)),
      seam: rms(frames.map((f) => f.seam)),
      expected: round(expected?.db ?? null, 2),
      shortfall: round(expected?.shortfall ?? null, 2),
      clean: this.state.unknown === null ? least(frames.map((f) => f.clean)) : null,
      grain: mean(targets.map((target, t) => ofPieces(t, (s) => this.#grain(target, s)))),
      sharpness: mean(this.#looked().map((t) => ofPieces(t, (s) => this.#sharpness(targets[t], s)))),
      steadiness: jitter(frames.map((f, t) => this.#settled(f, targets[t], shares[t]))),
      life: yield* this.#life(),
    }
    const interval: [number, number] | null = expected && [round(expected.low, 2)!, round(expected.high, 2)!]
    return { measures, frames, interval }
  }

  /** Target frames that sharpness is looked at on: focus does not jump from frame to frame. */
  #looked(): number[] {
    const last = this.pairs.targets.length - 1
    return [...new Set([0, last >> 1, last])]
  }

  #frame(target: Registered, t: number, shares: Draft['shares'][number], mosaic?: MosaicDraft): FrameMatch {
    const { pairs } = this
    const lead = leadOf(shares)
    const donor = pairs.donors[lead.column]
    const pair = mosaic ? this.#mixedPair(t, shares, mosaic) : pairs.pair(t, lead.column)
    const share = ({ column, weight }: (typeof shares)[number]) => {
      const d = pairs.donors[column]
      return { plate: d.plate, frame: d.frame, ...this.#offset(target, d), gain: EVEN, weight }
    }
    return {
      target: target.frame,
      plate: donor.plate,
      donor: donor.frame,
      ...this.#offset(target, donor),
      stops: round(pair.stops, 4),
      gain: EVEN,
      ncc: round(pair.ncc, 5),
      seam: round(pair.seam, 3),
      expected: round(pair.expected, 2),
      clean: this.state.unknown === null ? round(pair.clean, 4) : null,
      ...(mosaic
        ? { pieces: shares.map(share), map: this.#offset(target) }
        : shares.length > 1
          ? { stack: shares.map(share) }
          : {}),
    }
  }

  /** Pieces together: each counts by its area, and a border between two that shows more than the surround does counts. */
  #mixedPair(t: number, shares: Draft['shares'][number], { clean, seam }: MosaicDraft): Pair {
    const mixed = (value: (pair: Pair) => number | null) =>
      weightedMean(shares.map(({ column, weight }) => [value(this.pairs.pair(t, column)), weight]))
    const square = mixed((pair) => pair.seam && pair.seam ** 2)
    return {
      ncc: mixed((pair) => pair.ncc),
      stops: mixed((pair) => pair.stops),
      seam: square === null ? null : Math.max(Math.sqrt(square), seam),
      expected: null,
      clean: clean[t],
    }
  }

  /** Movement of the surround by itself; grain is the median of the target frames' own noise. */
  *#life(): Steps<number | null> {
    if (this.#lifeFound === undefined) {
      const { targets, frames, steady, surround, window } = this.pairs
      const noises = targets.flatMap((t) => this.noiseOf(t) ?? []).sort((a, b) => a - b)
      const grain = noises[noises.length >> 1] ?? 0
      this.#lifeFound = round(yield* lifeOf(this.workspace, frames, steady, surround, window, grain), 2)
    }
    return this.#lifeFound
  }

  /** The offset of a frame, and what is left of it where a camera that moves was followed before. */
  #settled(frame: FrameMatch, target: Registered, shares: Draft['shares'][number]): Offset {
    const { dx, dy } = meanOffset(frame)
    const lead = leadOf(shares)
    const [to, from] = [target.leftOver, this.pairs.donors[lead.column].leftOver]
    if (to === undefined || from === undefined) return { dx, dy }
    return { dx: dx + from.dx - to.dx, dy: dy + from.dy - to.dy }
  }

  /**
   * Donors' noise over the target's after resampling, where white noise keeps the root of the taps' sum of squares, and
   * averaging: independent noises add by their squares.
   */
  #grain(target: Registered, shares: Draft['shares'][number]): number | null {
    const mine = this.noiseOf(target)
    if (mine === null) return null
    // Grain below that is none to the eye: what coding left of it tells no ratio.
    const seen = (noise: number) => Math.max(EYE_LIMIT_STOPS, noise)
    let square = 0
    for (const { column, weight } of shares) {
      const donor = this.pairs.donors[column]
      const noise = this.noiseOf(donor)
      if (noise === null) return null
      const { dx, dy } = this.#offset(target, donor)
      square += (weight * seen(noise)) ** 2 * shiftPower(dx, dy, CUBIC)
    }
    return round(Math.sqrt(square) / seen(mine), 3)
  }

  /** @param donor absent: the common grid */
  #offset(target: Registered, donor: Pick<Registered, 'pose'> = { pose: IDENTITY }): Offset {
    return roundedOffset(offsetBetween(target, donor, this.region.window))
  }

  #sharpness(target: Registered, shares: Draft['shares'][number]): number | null {
    const { column } = shares[0]
    const ofTarget = this.#sharpnesses.get(target) ?? new Map<number, number | null>()
    this.#sharpnesses.set(target, ofTarget)
    const known = ofTarget.get(column)
    if (known !== undefined) return known
    const found = this.#sharpnessOf(target, this.pairs.donors[column])
    ofTarget.set(column, found)
    return found
  }

  #sharpnessOf(target: Registered, donor: Registered): number | null {
    const { surround } = this.region.frames.get(target.frame)!
    const a = this.pairs.steady.get(target)!
    const b = this.pairs.steady.get(donor)!
    const { w } = this.region.window
    // Where nobody passes in either: a walker in the surround is no detail of the wall's.
    // Grain has gradients too: half of its variance each way in a central difference of white noise.
    const clear = (f: Registered) =>
      gradientEnergy(this.workspace, f.aligned, w, surround, [a, b]) - (this.noiseOf(f) ?? 0) ** 2
    const [mine, theirs] = [clear(target), clear(donor)]
    return mine > 0 && theirs > 0 ? round(Math.sqrt(theirs / mine), 3) : null
  }
}

/** RMS second difference of the offset over sqrt(6): what is left of it when smooth movement is taken out. */
function jitter(frames: readonly Offset[]): number | null {
  if (frames.length < 3) return null
  let sum = 0
  for (let i = 1; i + 1 < frames.length; i++) {
    const [a, b, c] = [frames[i - 1], frames[i], frames[i + 1]]
    sum += (a.dx - 2 * b.dx + c.dx) ** 2 + (a.dy - 2 * b.dy + c.dy) ** 2
  }
  return round(Math.sqrt(sum / (frames.length - 2) / 6), 4)
}

/** Of a stack the shares' mean: who leads it may change from frame to frame, and moves nothing. */
function meanOffset({ dx, dy, stack }: FrameMatch): Offset {
  if (stack === undefined) return { dx, dy }
  const mean = (of: (share: Offset) => number) => stack.reduce((sum, s) => sum + s.weight * of(s), 0)
  return { dx: mean((s) => s.dx), dy: mean((s) => s.dy) }
}
