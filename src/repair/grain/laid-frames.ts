// Frames of one surface laid on each other, and the pairs of them that tell about grain.
import { meanLogs, takeChannel, zeroHoles } from '../../kernels/channels.js'
import { smooth } from '../../kernels/pyramid.js'
import { resample } from '../../kernels/resample.js'
import type { Scratch, Workspace } from '../../kernels/workspace.js'
import { type Alignment, align, HELD_SIGMA } from '../../match/align.js'
import { LOG_FLOOR } from '../../match/log-luminance.js'
import { prepareReference } from '../../match/reference.js'
import { LOCKED_PX } from '../../match/thresholds.js'
import { LANCZOS3, taps } from '../../raster/filters.js'
import type { Frame } from '../../raster/frame.js'
import type { Plane } from '../../raster/plane.js'
import { shift } from '../../raster/transform.js'
import type { Spectrum } from './model.js'
import { responseOf } from './spectrum.js'

/** From one frame to the next a camera moves less than this; frames further off are not compared. */
export const REACH_PX = 8
/** So many pairs tell; more take their time. */
const MAX_PAIRS = 12
/** Frames further apart than this show another light. */
const MAX_APART = 30

/** A frame of the plate over one rectangle. */
export interface Seen {
  readonly frame: number
  /** Linear RGB. */
  readonly picture: Frame
}

/** A frame laid on the middle one, all of it or some tiles. */
export interface Placed extends Seen {
  /** What the move left of noise at each frequency; null where nothing was moved. */
  readonly response: Spectrum | null
  /** By which it was moved, pixels. */
  readonly dx: number
  readonly dy: number
}

/** A frame as it was read, and where it lies on the middle one. */
export interface Lying extends Omit<Placed, 'picture'> {
  readonly asRead: Frame
}

/** Where frames lie on the middle one, as far as that can be told; one that repeats another is left out. */
export function lyingOn(
  workspace: Workspace,
  middle: Seen,
  frames: readonly Seen[],
  trusted: Readonly<Float32Array>,
  moves: boolean,
): Lying[] {
  return lyingUnder(workspace, middle, frames, [trusted], moves)[0]!
}

/** The same as each of several masks of the same size tells it: what their light is is told once. */
export function lyingUnder(
  workspace: Workspace,
  middle: Seen,
  frames: readonly Seen[],
  masks: readonly Readonly<Float32Array>[],
  moves: boolean,
): Lying[][] {
  const references = workspace.within((scratch) => {
    const light = lightOf(workspace, middle.picture, scratch)
    return masks.map((trusted) => prepareReference(workspace, light, trusted, REACH_PX))
  })
  const out = masks.map((): Lying[] => [])
  for (const seen of frames) {
    const { frame, picture } = seen
    const still = { frame, asRead: picture, response: null, dx: 0, dy: 0 }
    if (seen === middle) {
      for (const lying of out) lying.push(still)
      continue
    }
    // A held frame is no second witness.
    const repeats = (one: Frame) => same(one, picture)
    if (repeats(middle.picture)) continue
    workspace.within((scratch) => {
      const light = lightOf(workspace, picture, scratch)
      const low = smooth(workspace, light, scratch.floats(light.data.length))
      for (const [k, lying] of out.entries()) {
        if (lying.some((one) => one.response === null && repeats(one.asRead))) continue
        const placed = placedBy(align(workspace, references[k]!, light, REACH_PX, { low }), still, moves)
        if (placed !== null) lying.push(placed)
      }
    })
  }
  return out
}

/** @returns null where it can't be placed */
function placedBy(found: Alignment | null, still: Lying, moves: boolean): Lying | null {
  const held = found !== null && found.sigma <= HELD_SIGMA
  // Of a camera that moves, a frame that is not placed would show texture as grain.
  if (!held && moves) return null
  if (!held || Math.hypot(found.dx, found.dy) <= LOCKED_PX) return still
  const { dx, dy } = found
  if (Math.max(Math.abs(dx), Math.abs(dy)) >= REACH_PX - 1) return null
  return { ...still, response: responseOf(taps(dx, LANCZOS3).weights, taps(dy, LANCZOS3).weights), dx, dy }
}

/**
 * Moves a frame, a channel at a time.
 *
 * @param use gets each channel over the whole picture, moved where it is to be, which it must not keep
 */
export function movedBy(
  workspace: Workspace,
  { asRead, response, dx, dy }: Omit<Lying, 'frame'>,
  use: (channel: Readonly<Float32Array>, c: number) => void,
): void {
  const [height, width] = asRead.shape
  workspace.within((scratch) => {
    const data = scratch.laid(asRead.data)
    const [from, to] = [planeIn(scratch, width, height), planeIn(scratch, width, height)]
    for (let c = 0; c < 3; c++) {
      takeChannel(workspace, data, c, from.data)
      if (response === null) {
        use(from.data, c)
        continue
      }
      zeroHoles(workspace, from.data)
      resample(workspace, from, shift(dx, dy), to, LANCZOS3)
      use(to.data, c)
    }
  })
}

function planeIn(scratch: Scratch, width: number, height: number): Plane {
  return { x: 0, y: 0, width, height, data: scratch.floats(width * height) }
}

function lightOf(workspace: Workspace, { data, shape: [height, width] }: Frame, scratch: Scratch): Plane {
  const out = planeIn(scratch, width, height)
  meanLogs(workspace, data, LOG_FLOOR, out.data)
  return out
}

function same(a: Frame, b: Frame): boolean {
  for (let i = 0; i < a.data.length; i++) if (!Object.is(a.data[i], b.data[i])) return false
  return true
}

export type Pair<T extends Placed = Placed> = readonly [T, T]

/** Pairs that are so many frames apart, an even share of many. */
function pairsOf<T extends Placed>(placed: readonly T[], least: number, most: number): Pair<T>[] {
  const all = placed.flatMap((a) =>
    placed.flatMap((b): Pair<T>[] => {
      const apart = b.frame - a.frame
      return apart >= least && apart <= most ? [[a, b]] : []
    }),
  )
  const every = Math.max(1, Math.ceil(all.length / MAX_PAIRS))
  return all.filter((_, i) => i % every === 0)
}

/** Neighbours, or what is nearest to it; and pairs as far apart as there are some, but for light that drifts. */
export function nearAndFar<T extends Placed>(
  placed: readonly T[],
): { near: Pair<T>[]; far: Pair<T>[]; apart: number } {
  const gaps = placed.flatMap((a) => placed.map((b) => b.frame - a.frame)).filter((gap) => gap > 0)
  if (gaps.length === 0) return { near: [], far: [], apart: 1 }
  const apart = Math.min(...gaps)
  const longest = Math.max(...gaps.filter((gap) => gap <= MAX_APART), apart)
  return {
    near: pairsOf(placed, apart, apart),
    far: pairsOf(placed, Math.max(apart, Math.ceil((2 * longest) / 3)), longest),
    apart,
  }
}
