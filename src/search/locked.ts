// Is the camera locked off? Where people cross a surround with little to hold on to, alignment follows the people, so
// the poses alone can't tell: each has to earn its keep against not moving at all.
import type { Alignment } from '../match/align.js'
import { type Plane, plane, shiftPlane } from '../raster/shift.js'

/** A camera whose frames lie closer than this to each other (the median) is locked off; below it is the aligner's noise. */
const LOCKED_PX = 0.06
/** A pose earns its keep when it leaves less than this share of the squared difference: resampling alone saves a fifth. */
const EARNS = 0.75
/** A camera is locked off when fewer than this share of its poses earn their keep. */
const LEAST_EARNING = 0.2
/** Differences count up to so many sigma: what walks past is as different under every pose. */
const CAP_SIGMA = 4
const MAD_TO_SIGMA = 1.4826
/** Pixels compared: enough to tell a camera that moves from one that stands, few enough to do it for every frame. */
const MOST_PIXELS = 4096

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
export function poseEarns(
  picture: Plane,
  seen: Plane,
  { dx, dy }: Alignment,
  weight: Readonly<Float32Array>,
): boolean {
  if (dx === 0 && dy === 0) return false
  const still = difference(picture, seen, 0, 0, weight)
  const moved = difference(picture, seen, dx, dy, weight)
  if (still.length === 0) return false
  const sigma = centre(still)
  centre(moved)
  return cappedSquare(moved, sigma) < EARNS * cappedSquare(still, sigma)
}

function difference(
  picture: Plane,
  seen: Plane,
  dx: number,
  dy: number,
  weight: Readonly<Float32Array>,
): Float32Array {
  const out = plane(picture.x, picture.y, picture.width, picture.height)
  shiftPlane(seen, dx, dy, out)
  // An odd step, so that no column is left out of a picture of even width.
  const step = Math.max(1, Math.floor(weight.length / MOST_PIXELS)) | 1
  const off = new Float32Array(Math.ceil(weight.length / step))
  let n = 0
  for (let i = 0; i < weight.length; i += step) if (weight[i] > 0) off[n++] = out.data[i] - picture.data[i]
  return off.subarray(0, n)
}

/** Takes the median out, in place; returns sigma by the median absolute deviation. */
function centre(values: Float32Array): number {
  const sorted = Float32Array.from(values).sort()
  const middle = sorted[sorted.length >> 1]
  for (let i = 0; i < values.length; i++) {
    values[i] -= middle
    sorted[i] = Math.abs(values[i])
  }
  sorted.sort()
  return Math.max(1e-4, MAD_TO_SIGMA * sorted[sorted.length >> 1])
}

function cappedSquare(values: Readonly<Float32Array>, sigma: number): number {
  const most = (CAP_SIGMA * sigma) ** 2
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += Math.min(most, values[i] * values[i])
  return sum / values.length
}
