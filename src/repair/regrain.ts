// Grain for a patch that lost some: a resampled or averaged donor is smoother than the plate, and that shows in motion.
// What is missing is added as seeded noise, white, of each channel by itself at the channel's own level: the same for the
// same frame, always. The plate's grain may be softer than white; its level is never gone beyond.
import type { Plate } from '../footage/plate.js'
import { resample } from '../kernels/resample.js'
import type { Workspace } from '../kernels/workspace.js'
import { align, HELD_SIGMA } from '../match/align.js'
import { LOG_FLOOR } from '../match/log-luminance.js'
import { prepareReference } from '../match/reference.js'
import { LOCKED_PX } from '../match/thresholds.js'
import { CUBIC, LANCZOS3 } from '../raster/filters.js'
import { powerOver } from '../raster/footprint.js'
import type { Frame } from '../raster/frame.js'
import { type Plane, plane } from '../raster/plane.js'
import type { Rect } from '../raster/rect.js'
import { shift, transformOf } from '../raster/transform.js'
import type { FrameMatch, StackShare } from '../search/result.js'
import { type ChannelNoise, diagonalPower, flatNoise, movingNoise } from './noise.js'

/** A donor within this share of the target's grain needs none: nobody sees a twentieth. */
export const ENOUGH = 0.95
/** From one frame to the next a camera moves less than this, or its frames are not compared. */
const REACH_PX = 8

/**
 * Adds grain to a patch in place.
 *
 * @param picture linear RGB over the window
 * @param kept    the patch's noise over the target's, 0 to 1; of all of it, or pixel by pixel
 * @param noise   the target's
 * @param seed    the target frame's number: each frame has its own grain, and a second run the same
 */
export function regrain(
  { data }: Frame,
  kept: number | Readonly<Float32Array>,
  noise: ChannelNoise,
  seed: number,
): void {
  if (typeof kept === 'number' && kept >= ENOUGH) return
  const random = gaussian(seed)
  const shareOf = (k: number) => (k >= ENOUGH ? 0 : Math.sqrt(1 - k * k))
  const even = typeof kept === 'number' ? shareOf(kept) : 0
  for (let i = 0, p = 0; i < data.length; p++) {
    const missing = typeof kept === 'number' ? even : shareOf(kept[p]!)
    // A factor of light: stops are what was measured.
    for (let c = 0; c < 3; c++, i++) data[i] *= 2 ** (missing * noise[c]! * random())
  }
}

/**
 * The share of the target's noise that lending leaves: what was measured, or, of the target's own plate, what resampling
 * and averaging leave by their weights where that is more. Of a mosaic, that of the piece that keeps least.
 *
 * @param grain  the candidate's, donor over target
 * @param window over which it is told: where a donor turns or grows, every pixel keeps another share
 */
export function keptNoise(match: FrameMatch, grain: number, window: Rect): number {
  const { pieces, ...rest } = match
  if (pieces)
    return Math.min(...pieces.map((piece) => keptNoise({ ...rest, stack: [alone(piece)] }, grain, window)))
  const shares = match.stack ?? [{ ...match, weight: 1 }]
  if (shares.some(({ plate }) => plate !== 0)) return grain
  let power = 0
  for (const share of shares)
    power += share.weight * share.weight * powerOver(transformOf(share), LANCZOS3, window)
  // Measured on the common grid, on which the target was resampled, too, it says nothing of a donor that turns or grows.
  const measured = shares.some(({ transform }) => transform !== undefined) ? 0 : grain
  return Math.max(measured, Math.sqrt(power))
}

/** A piece of a mosaic, as if it lent everything. */
export function alone(piece: StackShare): StackShare {
  return { ...piece, weight: 1 }
}

/** The target frames that tell one frame's noise beside it; none where a patch needs no grain. */
export function noiseFrames(
  { frames }: Plate,
  match: FrameMatch,
  grain: number | null,
  window: Rect,
): number[] {
  if (grain === null || keptNoise(match, grain, window) >= ENOUGH) return []
  return [match.target - 1, match.target + 1].filter((f) => frames.includes(f))
}

/**
 * A frame's noise per channel, from its flat places and from what is another one in its neighbours.
 *
 * @param picture    linear RGB, [height, width, 3]
 * @param neighbours the frames before and after it, over the same rectangle
 * @param weight     1 where it is looked at
 * @returns null where too little can be seen
 */
export function noiseOf(
  workspace: Workspace,
  picture: Frame,
  neighbours: readonly Frame[],
  weight: Readonly<Float32Array>,
): ChannelNoise | null {
  const seen = stopsOf(picture)
  const shown = weight.map((w, i) => (Number.isFinite(seen[3][i]) ? w : 0))
  const width = picture.shape[1]
  const reference = prepareReference(workspace, planeOf(holesFilled(seen[3]), width), shown, REACH_PX)
  const moving: number[][] = []
  for (const next of neighbours) {
    // A held frame is no second witness.
    if (next.data.every((v, i) => Object.is(v, picture.data[i]))) continue
    const other = stopsOf(next)
    const found = align(workspace, reference, planeOf(holesFilled(other[3]), width), REACH_PX)
    // What moves less stands still, and is not resampled.
    const held = found !== null && found.sigma <= HELD_SIGMA && Math.hypot(found.dx, found.dy) > LOCKED_PX
    const { dx, dy } = held ? found : { dx: 0, dy: 0 }
    const power = diagonalPower(dx, dy, CUBIC)
    const levels = [0, 1, 2].map((c) => {
      const moved = plane(0, 0, width, picture.shape[0])
      resample(workspace, planeOf(holesFilled(other[c]), width), shift(dx, dy), moved)
      return movingNoise(holesFilled(seen[c]), moved.data, width, shown, power)
    })
    if (levels.every((level) => level !== null)) moving.push(levels)
  }
  // All neighbours are held frames: what moves is unknown.
  if (moving.length === 0 && neighbours.length > 0) return null
  const flat = [0, 1, 2].map((c) => flatNoise(holesFilled(seen[c]), width, shown))
  if (flat.some((level) => level === null)) return null
  const [r, g, b] = flat.map((level, c) => Math.min(level!, ...moving.map((levels) => levels[c]!)))
  return [r!, g!, b!]
}

/** log2 of R, G, B and of their sum; NaN in a hole. */
function stopsOf({ data }: Frame): Float32Array[] {
  const out = [0, 1, 2, 3].map(() => new Float32Array(data.length / 3))
  const log = (v: number) => Math.log2(Math.max(0, v) + LOG_FLOOR)
  for (let i = 0, j = 0; j < data.length; i++, j += 3) {
    const sum = data[j]! + data[j + 1]! + data[j + 2]!
    for (let c = 0; c < 3; c++) out[c]![i] = log(data[j + c]!)
    out[3]![i] = sum - sum === 0 ? log(sum / 3) : Number.NaN
  }
  return out
}

/** A hole shows what comes before it, so that nothing not finite spreads. */
function holesFilled(values: Readonly<Float32Array>): Float32Array {
  let last = 0
  return values.map((v) => {
    if (Number.isFinite(v)) last = v
    return last
  })
}

function planeOf(data: Float32Array, width: number): Plane {
  return { x: 0, y: 0, width, height: data.length / width, data }
}

/** Standard normal numbers: mulberry32 under the Box-Muller transform. */
function gaussian(seed: number): () => number {
  let state = Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) >>> 0
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform())
}
