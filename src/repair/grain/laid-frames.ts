// Frames of one surface laid on each other, and the pairs of them that tell about grain.
import { resample } from '../../kernels/resample.js'
import type { Workspace } from '../../kernels/workspace.js'
import { align, HELD_SIGMA } from '../../match/align.js'
import { LOG_FLOOR } from '../../match/log-luminance.js'
import { prepareReference } from '../../match/reference.js'
import { LOCKED_PX } from '../../match/thresholds.js'
import { LANCZOS3, taps } from '../../raster/filters.js'
import type { Frame } from '../../raster/frame.js'
import { type Plane, plane } from '../../raster/plane.js'
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

/** A frame laid on the middle one. */
export interface Placed extends Seen {
  /** What the move left of noise at each frequency; null where nothing was moved. */
  readonly response: Spectrum | null
  /** By which it was moved, pixels. */
  readonly dx: number
  readonly dy: number
}

/** Frames moved onto the middle one, as far as they can be; one that repeats another is left out. */
export function laidOn(
  workspace: Workspace,
  middle: Seen,
  frames: readonly Seen[],
  trusted: Readonly<Float32Array>,
  moves: boolean,
): Placed[] {
  const [height, width] = middle.picture.shape
  const reference = prepareReference(workspace, lightOf(middle.picture), trusted, REACH_PX)
  const out: Placed[] = []
  for (const seen of frames) {
    if (seen === middle) {
      out.push({ ...seen, response: null, dx: 0, dy: 0 })
      continue
    }
    // A held frame is no second witness.
    if ([middle, ...out].some(({ picture }) => same(picture, seen.picture))) continue
    const found = align(workspace, reference, lightOf(seen.picture), REACH_PX)
    const held = found !== null && found.sigma <= HELD_SIGMA
    // Of a camera that moves, a frame that is not placed would show texture as grain.
    if (!held && moves) continue
    if (!held || Math.hypot(found.dx, found.dy) <= LOCKED_PX) {
      out.push({ ...seen, response: null, dx: 0, dy: 0 })
      continue
    }
    if (Math.max(Math.abs(found.dx), Math.abs(found.dy)) >= REACH_PX - 1) continue
    const { dx, dy } = found
    const data = new Float32Array(seen.picture.data.length)
    const [from, to] = [plane(0, 0, width, height), plane(0, 0, width, height)]
    for (let c = 0; c < 3; c++) {
      for (let i = 0; i < from.data.length; i++) from.data[i] = finite(seen.picture.data[3 * i + c]!)
      resample(workspace, from, shift(dx, dy), to, LANCZOS3)
      for (let i = 0; i < to.data.length; i++) data[3 * i + c] = to.data[i]!
    }
    const picture = { ...seen.picture, data } as Frame
    const response = responseOf(taps(dx, LANCZOS3).weights, taps(dy, LANCZOS3).weights)
    out.push({ frame: seen.frame, picture, response, dx, dy })
  }
  return out
}

function lightOf({ data, shape: [height, width] }: Frame): Plane {
  const out = plane(0, 0, width, height)
  for (let i = 0, j = 0; i < out.data.length; i++, j += 3)
    out.data[i] = Math.log2(Math.max(0, finite((data[j]! + data[j + 1]! + data[j + 2]!) / 3)) + LOG_FLOOR)
  return out
}

/** What is not finite as nothing, so that it does not spread. */
export function finite(value: number): number {
  return Number.isFinite(value) ? value : 0
}

function same(a: Frame, b: Frame): boolean {
  for (let i = 0; i < a.data.length; i++) if (!Object.is(a.data[i], b.data[i])) return false
  return true
}

export type Pair = readonly [Placed, Placed]

/** Pairs that are so many frames apart, an even share of many. */
function pairsOf(placed: readonly Placed[], least: number, most: number): Pair[] {
  const all = placed.flatMap((a) =>
    placed.flatMap((b): Pair[] => {
      const apart = b.frame - a.frame
      return apart >= least && apart <= most ? [[a, b]] : []
    }),
  )
  const every = Math.max(1, Math.ceil(all.length / MAX_PAIRS))
  return all.filter((_, i) => i % every === 0)
}

/** Neighbours, or what is nearest to it; and pairs as far apart as there are some, but for light that drifts. */
export function nearAndFar(placed: readonly Placed[]): { near: Pair[]; far: Pair[]; apart: number } {
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
