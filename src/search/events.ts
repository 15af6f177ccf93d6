// What a search tells while it runs, in this order: followed (a camera that moves), planned, tracked for every frame with
// rankings in between (where they are asked for), row for every target frame and the matrix (hide), candidate, measured
// (hide), done. A progress bar and a page listen to the same events.

import { HELD_SIGMA } from '../match/align.js'
import type { Progress } from '../progress.js'
import { type Offset, shiftOf } from '../raster/transform.js'
import type { FrameKey } from '../shot/frame-key.js'
import type { Shot } from '../shot/open-shot.js'
import type { TrackedFrame } from '../track/frame-tracker.js'
import type { Plan } from '../track/plan.js'
import type { Arrival } from '../track/read-frames.js'
import type { MatrixRow } from './hide/cells.js'
import type { Candidate, Result } from './result.js'

export interface SearchOptions {
  /** Candidates to keep. */
  readonly keep?: number
  /**
   * Tell what can be said while frames are still being read: a `ranking` after about a tenth, a quarter and half of them,
   * and of a hide the `matrix` when it is whole. Frames are then read in an order that spreads over all plates and closes in
   * on what is promising. The result is the same to the last bit; it takes some per cent longer. Default: false.
   */
  readonly anytime?: boolean
  readonly signal?: AbortSignal
}

/** A camera that moves is being followed: frames of all plates. Before all else, and only where one does. */
export interface CameraFollowed {
  readonly kind: 'followed'
  readonly done: number
  readonly total: number
}

/** What will be read: known before the first frame is. */
export interface Planned {
  readonly kind: 'planned'
  readonly targets: readonly number[]
  readonly donors: readonly FrameKey[]
  /** All frames of all plates, the targets first: what is known of the footage comes from all of it, whoever may lend. */
  readonly frames: readonly FrameKey[]
}

/** A frame has been read and followed, or can't be. */
export interface Tracked extends FrameKey {
  readonly kind: 'tracked'
  /** Moves the frame onto the reference frame, pixels; null where nothing holds it, or it can't be read. */
  readonly offset: Offset | null
  /** Standard deviation of its grain, stops; null where too little of it is seen. */
  readonly noise: number | null
  /** Why it can't be read. */
  readonly message?: string
  readonly done: number
  readonly total: number
}

/** A candidate of a ranking on the way. */
export type EarlyCandidate = Candidate & {
  /** Of a moment: first and last frame on which its peak may lie, if it has one; both the same where that is known. */
  readonly peakWithin?: readonly [first: number, last: number]
}

/** What of the match matrix is known while frames are read: some pairs of all that there will be. */
export interface EarlyMatrix {
  /** All target frames, and all frames that may lend, in the matrix's order. */
  readonly targets: readonly number[]
  readonly donors: readonly (readonly [plate: number, frame: number])[]
  /** Indices into both, and how alike the two are, 0 to 100; null where nothing can be said. */
  readonly cells: readonly (readonly [target: number, donor: number, quality: number | null])[]
}

/**
 * The best that can be said of what was read so far; told only where it is asked for (`anytime`). How sure it is: `read` of
 * `total`, and each candidate's own `interval` round what it expects, or where its peak may lie. A candidate has entries for
 * those target frames that were looked at, a donor's light is the same in every channel; kinds and candidates that take more
 * frames may be missing.
 */
export interface Ranking {
  readonly kind: 'ranking'
  readonly read: number
  readonly total: number
  /** Best first; none where nothing that was read can fill the range. */
  readonly candidates: readonly EarlyCandidate[]
  /** Of a hide. Qualities are as in the result's matrix, against the best of what was looked at. */
  readonly matrix?: EarlyMatrix
}

/** A target frame has been compared with every donor. */
export interface Row extends MatrixRow {
  readonly kind: 'row'
  /** Donors of the row's numbers, in order: who may lend, then who was asked for beside them. */
  readonly donors: readonly FrameKey[]
}

/** All target frames have been compared: the match matrix as the result has it; told only where it is asked for (`anytime`). */
interface MatrixMade {
  readonly kind: 'matrix'
  readonly matrix: NonNullable<Result['matrix']>
}

/** A candidate of the ranking as it is known now: its light is measured last. */
export interface Proposed {
  readonly kind: 'candidate'
  readonly candidate: Candidate
  /** From 1; a borrow's is that among those found so far. */
  readonly rank: number
}

/** The light of a donor frame has been measured, channel by channel. */
interface LightMeasured {
  readonly kind: 'measured'
  readonly done: number
  readonly total: number
}

interface Done {
  readonly kind: 'done'
  readonly result: Result
}

export type SearchEvent =
  | CameraFollowed
  | Planned
  | Tracked
  | Ranking
  | Row
  | MatrixMade
  | Proposed
  | LightMeasured
  | Done

export function planned({ frames, donors }: Shot, plan: Plan): Planned {
  return { kind: 'planned', targets: frames, donors, frames: plan.frames }
}

export function tracked(one: Arrival<TrackedFrame>): Tracked {
  const { plate, frame, done, total } = one
  const count = { kind: 'tracked', plate, frame, done, total } as const
  if (one.message !== undefined) return { ...count, offset: null, noise: null, message: one.message }
  const { pose, noise, seen } = one.kept
  const { x, y, width, height } = seen.log
  const offset = pose.sigma <= HELD_SIGMA ? shiftOf(pose.transform, { x, y, w: width, h: height }) : null
  return { ...count, offset, noise }
}

/** How far a search is, for a bar; null for what is no step of it. */
export function progressOf(event: SearchEvent): Progress | null {
  switch (event.kind) {
    case 'followed':
      return { phase: 'following the camera', done: event.done, total: event.total }
    case 'tracked':
      return { phase: 'reading', done: event.done, total: event.total }
    case 'row':
      return { phase: 'matching', done: event.done, total: event.total }
    case 'measured':
      return { phase: 'measuring light', done: event.done, total: event.total }
    default:
      return null
  }
}

/** Runs a search to its end, telling how far it is, and whoever wants more every event. */
export async function resultOf(
  events: AsyncIterable<SearchEvent>,
  onProgress?: (progress: Progress) => void,
  onEvent?: (event: SearchEvent) => void,
): Promise<Result> {
  let result: Result | undefined
  for await (const event of events) {
    onEvent?.(event)
    const progress = progressOf(event)
    if (progress !== null) onProgress?.(progress)
    if (event.kind === 'done') result = event.result
  }
  if (result === undefined) throw new TypeError('a search ends with its result')
  return result
}
