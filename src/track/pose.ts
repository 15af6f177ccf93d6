// Where the camera looked on a frame, and whether it is locked off. Where people cross a surround with little to hold on to,
// alignment follows the people, so the poses alone can't tell: each has to earn its keep against not moving at all. And
// that a camera stands still has to be seen too: a frame that shows something else altogether earns nothing either.

import { cappedSquares } from '../kernels/correlate.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
import { align, correlationsAt, HELD_SIGMA } from '../match/align.js'
import { differenceAt, type Reference } from '../match/reference.js'
import { medianAndSigma } from '../match/selection.js'
import { LOCKED_PX } from '../match/thresholds.js'
import type { Plane } from '../raster/plane.js'
import type { Rect } from '../raster/rect.js'
import { IDENTITY, type Offset, shift, shiftOf, type Transform } from '../raster/transform.js'

/** A pose earns its keep when it leaves less than this share of the squared difference: resampling alone saves a fifth. */
const EARNS = 0.75
/** A camera is locked off when fewer than this share of its poses earn their keep. */
const MIN_EARNING = 0.2
/** And when it leaves less than this share of the picture itself: of another place the best of many leaves about all. */
const MAX_LEFT = 0.8
/** Of poses that earn nothing, those shorter than this, pixels, say the same as standing still. */
const NEARLY_STILL_PX = 0.5
/**
 * Two pictures of the same place correlate better than this, with half of one hidden too; the other, higher limit is for the
 * best of many places, which is some way there by chance.
 */
const MIN_SAME = 0.3
const MIN_SAME_OF_MANY = 0.5
/** Differences count up to so many sigma: what walks past is as different under every pose. */
const CAP_SIGMA = 4

/** Where a frame lies, and how sure that is. */
export interface Pose {
  /** Puts the frame on the common grid. */
  readonly transform: Transform
  /** Standard error in the worst direction that is held, pixels; large where no texture holds any. */
  readonly sigma: number
  /** Moving by it explains the picture clearly better than standing still. */
  readonly earns: boolean
  /** Standing still explains the picture, and nothing explains it clearly better. */
  readonly still: boolean
}

/**
 * A frame's pose; the identity with an infinite sigma where the reference has nothing to align to.
 *
 * @param log log2 luminance over the reference's rectangle grown by `reachPx`
 * @param low the same, smoothed
 * @param holes see `align`
 */
export function poseOf(
  workspace: Workspace,
  reference: Reference,
  log: Plane,
  low: Plane,
  reachPx: number,
  holes: Readonly<Uint8Array> | null = null,
): Pose {
  const found = align(workspace, reference, log, reachPx, { low, holes })
  if (found === null) return LOST
  const { dx, dy, sigma } = found
  const transform = shift(dx, dy)
  const held = sigma <= HELD_SIGMA
  if (held && poseEarns(workspace, reference, low, found))
    return { transform, sigma, earns: true, still: false }
  if (held && Math.hypot(dx, dy) < NEARLY_STILL_PX) return { transform, sigma, earns: false, still: true }
  // Neither clearly better than the other: is this the same picture at all?
  const [here, there] = correlationsAt(workspace, reference, log, [{ dx: 0, dy: 0 }, found])
  const still = here > MIN_SAME
  if (still) return { transform, sigma, earns: false, still }
  return there > MIN_SAME_OF_MANY && held ? { transform, sigma, earns: true, still } : LOST
}

/** What shows nothing of the reference. */
const LOST: Pose = { transform: IDENTITY, sigma: Number.POSITIVE_INFINITY, earns: false, still: false }

/**
 * Was a camera locked off? Seen, not assumed: its poses are as short as the aligner's noise, or most frames are explained by
 * standing still and few by anything better.
 *
 * @param poses  of a plate's frames, those that nothing holds among them
 * @param window where the frames must lie still
 */
export function isLocked(poses: readonly Pose[], window: Rect): boolean {
  const held = poses.filter((p) => p.sigma <= HELD_SIGMA)
  if (held.length >= poses.length / 2) {
    const offsets = held.map((p) => shiftOf(p.transform, window))
    const lengths = offsets.map(({ dx, dy }) => Math.hypot(dx, dy)).sort((a, b) => a - b)
    if (lengths[lengths.length >> 1] < LOCKED_PX) return true
    if (held.filter((p) => p.earns).length >= MIN_EARNING * held.length) return false
  }
  return poses.filter((p) => p.still).length >= poses.length / 2
}

/**
 * Does moving the frame by its pose explain the picture clearly better than leaving it where it is?
 *
 * @param low the frame's log2 luminance, smoothed
 */
function poseEarns(workspace: Workspace, reference: Reference, low: Plane, { dx, dy }: Offset): boolean {
  if (dx === 0 && dy === 0) return false
  const { length } = reference.low.value
  return workspace.within((scratch) => {
    const still = scratch.floats(length)
    const moved = scratch.floats(length)
    differenceAt(workspace, reference, low, 0, 0, still)
    differenceAt(workspace, reference, low, dx, dy, moved)
    const here = spreadOf(scratch, still)
    const there = spreadOf(scratch, moved)
    const most = (CAP_SIGMA * here.sigma) ** 2
    const meanOf = (values: Float32Array, { median }: Spread) =>
      cappedSquares(workspace, values, median, most) / length
    if (meanOf(moved, there) >= EARNS * meanOf(still, here)) return false
    return there.sigma < MAX_LEFT * sigmaOf(scratch, reference)
  })
}

/** The reference's own spread, for every frame that is held against it. */
const sigmas = new WeakMap<Reference, number>()

function sigmaOf(scratch: Scratch, reference: Reference): number {
  const sigma = sigmas.get(reference) ?? spreadOf(scratch, reference.low.value).sigma
  sigmas.set(reference, sigma)
  return sigma
}

/** Samples that a median is taken from. */
const MEDIAN_SAMPLES = 1024

interface Spread {
  readonly median: number
  /** By the median absolute deviation, stops. */
  readonly sigma: number
}

function spreadOf(scratch: Scratch, values: Readonly<Float32Array>): Spread {
  const step = Math.max(1, Math.floor(values.length / MEDIAN_SAMPLES))
  const sample = scratch.floats(Math.ceil(values.length / step))
  for (let i = 0; i < sample.length; i++) sample[i] = values[i * step]
  const { median, sigma } = medianAndSigma(sample)
  return { median, sigma: Math.max(1e-4, sigma) }
}
