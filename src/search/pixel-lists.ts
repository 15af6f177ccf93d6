// The pixels of a region and of its surround as lists, so that pairs of frames are compared in one straight loop.

import { type Compared, markWithin } from '../kernels/compare.js'
import type { Workspace } from '../kernels/workspace.js'
import { evenly, indicesOf } from '../match/subsample.js'
import { VISIBLE_STOPS } from '../match/thresholds.js'
import type { RegionFrame } from '../region/region.js'

/** A surround pixel this many spreads from the clean plate, and visibly so, shows something that passes by. */
const PASSING_SIGMA = 5
/** Pixels of the surround that pairs are compared on: the residual of this many is known to a per cent. */
const COMPARED_PIXELS = 8192
/** Pixels of the region on which a donor's distance is taken: an error over so many is known to a tenth of a decibel. */
const OWN_PIXELS = 2048

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
