// Is the camera locked off? Where people cross a surround with little to hold on to, alignment follows the people, so
// the poses alone can't tell: each has to earn its keep against not moving at all.
import { type Alignment, differenceAt, type Reference } from '../match/align.js'
import { smooth } from '../raster/pyramid.js'
import type { Plane } from '../raster/shift.js'

/** A camera whose frames lie closer than this to each other (the median) is locked off; below it is the aligner's noise. */
const LOCKED_PX = 0.06
/** A pose earns its keep when it leaves less than this share of the squared difference: resampling alone saves a fifth. */
const EARNS = 0.75
/** A camera is locked off when fewer than this share of its poses earn their keep. */
const LEAST_EARNING = 0.2
/** Differences count up to so many sigma: what walks past is as different under every pose. */
const CAP_SIGMA = 4
const MAD_TO_SIGMA = 1.4826

/**
 * @param poses of the frames that alignment holds
 * @param earns for each of them, see `poseEarns`
 */
export function isLocked(poses: readonly Alignment[], earns: readonly boolean[]): boolean {
  if (poses.length === 0) return true
  const lengths = poses.map((p) => Math.hypot(p.dx, p.dy)).sort((a, b) => a - b)
  if (lengths[lengths.length >> 1] < LOCKED_PX) return true
  return earns.filter((e) => e).length < LEAST_EARNING * poses.length
}

/** Does moving the frame by its pose explain the picture clearly better than leaving it where it is? */
export function poseEarns(reference: Reference, seen: Plane, { dx, dy }: Alignment): boolean {
  if (dx === 0 && dy === 0) return false
  const low = smooth(seen)
  const still = new Float32Array(reference.low.value.length)
  const moved = new Float32Array(still.length)
  differenceAt(reference, low, 0, 0, still)
  differenceAt(reference, low, dx, dy, moved)
  const sigma = centre(still)
  centre(moved)
  return cappedSquare(moved, sigma) < EARNS * cappedSquare(still, sigma)
}

/** Samples that a median is taken from. */
const MEDIAN_SAMPLES = 1024

/** Takes the median out, in place; returns sigma by the median absolute deviation. */
function centre(values: Float32Array): number {
  const step = Math.max(1, Math.floor(values.length / MEDIAN_SAMPLES))
  const sorted = Float32Array.from(
    { length: Math.ceil(values.length / step) },
    (_, i) => values[i * step],
  ).sort()
  const middle = sorted[sorted.length >> 1]
  for (let i = 0; i < values.length; i++) values[i] -= middle
  for (let i = 0; i < sorted.length; i++) sorted[i] = Math.abs(sorted[i] - middle)
  sorted.sort()
  return Math.max(1e-4, MAD_TO_SIGMA * sorted[sorted.length >> 1])
}

function cappedSquare(values: Readonly<Float32Array>, sigma: number): number {
  const most = (CAP_SIGMA * sigma) ** 2
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += Math.min(most, values[i] * values[i])
  return sum / values.length
}
