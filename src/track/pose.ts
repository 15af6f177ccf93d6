// Where the camera looked on a frame, and whether it is locked off. Where people cross a surround with little to hold on to, alignment follows the people, so
// the poses alone can't tell: each has to earn its keep against not moving at all.

import type { Scratch, Workspace } from '../kernels/workspace.js'
import { align, HELD_SIGMA } from '../match/align.js'
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
  if (found === null) return { transform: IDENTITY, sigma: Number.POSITIVE_INFINITY, earns: false }
  const { dx, dy, sigma } = found
  const earns = sigma <= HELD_SIGMA && poseEarns(workspace, reference, low, found)
  return { transform: shift(dx, dy), sigma, earns }
}

/**
 * @param poses  of the frames that alignment holds
 * @param window where the frames must lie still
 */
export function isLocked(poses: readonly Pose[], window: Rect): boolean {
  if (poses.length === 0) return true
  const offsets = poses.map((p) => shiftOf(p.transform, window))
  const lengths = offsets.map(({ dx, dy }) => Math.hypot(dx, dy)).sort((a, b) => a - b)
  if (lengths[lengths.length >> 1] < LOCKED_PX) return true
  return poses.filter((p) => p.earns).length < MIN_EARNING * poses.length
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
    const sigma = centre(scratch, still)
    centre(scratch, moved)
    return cappedSquare(moved, sigma) < EARNS * cappedSquare(still, sigma)
  })
}

/** Samples that a median is taken from. */
const MEDIAN_SAMPLES = 1024

/** Takes the median out, in place; returns sigma by the median absolute deviation. */
function centre(scratch: Scratch, values: Float32Array): number {
  const step = Math.max(1, Math.floor(values.length / MEDIAN_SAMPLES))
  const sample = scratch.floats(Math.ceil(values.length / step))
  for (let i = 0; i < sample.length; i++) sample[i] = values[i * step]
  const { median, sigma } = medianAndSigma(sample)
  for (let i = 0; i < values.length; i++) values[i] -= median
  return Math.max(1e-4, sigma)
}

function cappedSquare(values: Readonly<Float32Array>, sigma: number): number {
  const most = (CAP_SIGMA * sigma) ** 2
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += Math.min(most, values[i] * values[i])
  return sum / values.length
}
