// The pixels of a region and of its surround as lists, so that pairs of frames are compared in one straight loop.

import { boxMean } from '../kernels/box.js'
import { type Compared, markWithin } from '../kernels/compare.js'
import { addLife } from '../kernels/life.js'
import type { Workspace } from '../kernels/workspace.js'
import { evenly, indicesOf } from '../match/subsample.js'
import { VISIBLE_STOPS } from '../match/thresholds.js'
import type { Rect } from '../raster/rect.js'
import type { RegionFrame } from '../region/region.js'
import type { Steps } from '../turns.js'
import type { Registered } from './register.js'

/** A surround pixel this many spreads from the clean plate, and visibly so, shows something that passes by. */
const PASSING_SIGMA = 5
/** Neighbouring frames that are compared for life: enough for a mean, spread over the plate. */
const LIFE_PAIRS = 24
/** Pixels of the surround that pairs are compared on: the residual of this many is known to a per cent. */
const COMPARED_PIXELS = 8192
/** Pixels of the region on which a donor's distance is taken: an error over so many is known to a tenth of a decibel. */
const OWN_PIXELS = 2048
/** Radius in pixels of the mean that detail stands out from. */
const DETAIL_RADIUS = 4

export interface PixelLists {
  /** Indices into the window. */
  readonly surround: Int32Array
  /** Of a large surround an even share, for what is measured on every pair. */
  readonly compared: Int32Array
  readonly inside: Int32Array
  readonly insideWeight: Float32Array
  /** Of a large region an even share, and its weights. */
  readonly own: Int32Array
  readonly ownWeight: Float32Array
  /** RMS on the surround of the spread that grain explains, stops. */
  readonly surroundSpread: number
}

/** @param least what grain is taken to be at least, stops: see `minSpread` */
export function pixelLists(frame: RegionFrame, spread: Readonly<Float32Array>, least: number): PixelLists {
  const surround = indicesOf(frame.surround)
  const inside = indicesOf(frame.inside)
  const own = evenly(inside, OWN_PIXELS)
  return {
    surround,
    compared: evenly(surround, COMPARED_PIXELS),
    inside,
    insideWeight: gather(frame.inside, inside),
    own,
    ownWeight: gather(frame.inside, own),
    surroundSpread: surround.length > 0 ? Math.max(least, rmsOf(spread, surround)) : 1,
  }
}

function rmsOf(values: Readonly<Float32Array>, list: Readonly<Int32Array>): number {
  let square = 0
  for (let k = 0; k < list.length; k++) square += values[list[k]] ** 2
  return Math.sqrt(square / list.length)
}

export function gather(values: Readonly<Float32Array>, list: Readonly<Int32Array>): Float32Array {
  const out = new Float32Array(list.length)
  for (let i = 0; i < list.length; i++) out[i] = values[list[i]]
  return out
}

/** 1 where a frame's pixel is good and shows what the clean plate shows: nobody passes there. */
export function steadyPixels(workspace: Workspace, compared: Compared): Uint8Array {
  const out = new Uint8Array(compared.level.length)
  markWithin(workspace, compared, PASSING_SIGMA, VISIBLE_STOPS, out)
  return out
}

/**
 * How much of the surround's detail is another one in the next frame: the change from frame to frame beyond grain, over
 * the detail's own strength. 0 where all stands still, near 1 where leaves or water are never the same twice.
 *
 * @param frames in order
 * @param grain  noise of one frame, stops
 * @returns null where no two neighbours share a pixel
 */
export function* lifeOf(
  workspace: Workspace,
  frames: readonly Registered[],
  steady: ReadonlyMap<Registered, Uint8Array>,
  surround: Readonly<Int32Array>,
  window: Rect,
  grain: number,
): Steps<number | null> {
  const pairs = frames.flatMap((b, i) => {
    const a = frames[i - 1]
    const next = a !== undefined && a.plate === b.plate && a.frame + 1 === b.frame
    return next && steady.has(a) && steady.has(b) ? [{ a, b }] : []
  })
  const stride = Math.max(1, Math.floor(pairs.length / LIFE_PAIRS))
  const sums = new Float64Array(5)
  for (let k = 0; k < pairs.length; k += stride) {
    yield
    const { a, b } = pairs[k]
    const light = boxMean(workspace, a.aligned, window.w, DETAIL_RADIUS)
    const from = { ...a, steady: steady.get(a)! }
    const to = { ...b, steady: steady.get(b)! }
    addLife(workspace, surround, from, to, light, window.w, sums)
  }
  const [change, detail, white, whites, n] = sums
  if (n === 0 || detail === 0) return null
  // Dark places are far grainier in stops than most, and a median knows nothing of them: what is white in the change does.
  const grains = Math.max(2 * grain * grain, whites > 0 ? white / whites : 0)
  // Two pictures differ by both their grains, and by twice the square of a detail that is another one altogether.
  const moved = Math.max(0, change / n - grains) / 2
  return Math.sqrt(moved / (detail / n))
}
