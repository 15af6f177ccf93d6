// The pixels of a region and of its surround as lists, so that pairs of frames are compared in one straight loop.
import { GOOD } from '../match/working.js'
import type { RegionFrame } from '../region/region.js'
import type { Registered } from './register.js'

/** A surround pixel this many spreads, and this many stops, from the empty state shows something that passes by. */
const PASSING_SIGMA = 5
const PASSING_STOPS = 0.05
/** Neighbouring frames that are compared for unrest: enough for a mean, spread over the plate. */
const UNREST_PAIRS = 24

export interface PixelLists {
  /** Indices into the window. */
  readonly surround: Int32Array
  readonly inside: Int32Array
  readonly insideWeight: Float32Array
  /** RMS on the surround of the spread that grain explains, stops. */
  readonly surroundSpread: number
}

export function pixelLists(frame: RegionFrame, spread: Readonly<Float32Array>): PixelLists {
  const surround: number[] = []
  const inside: number[] = []
  let square = 0
  for (let i = 0; i < spread.length; i++) {
    if (frame.inside[i] > 0) inside.push(i)
    if (frame.surround[i] === 0) continue
    surround.push(i)
    square += spread[i] ** 2
  }
  return {
    surround: Int32Array.from(surround),
    inside: Int32Array.from(inside),
    insideWeight: Float32Array.from(inside, (i) => frame.inside[i]),
    surroundSpread: surround.length > 0 ? Math.sqrt(square / surround.length) : 1,
  }
}

export function gather(values: Readonly<Float32Array>, list: Readonly<Int32Array>): Float32Array {
  const out = new Float32Array(list.length)
  for (let i = 0; i < list.length; i++) out[i] = values[list[i]]
  return out
}

export function gatherBits(values: Readonly<Uint8Array>, list: Readonly<Int32Array>): Uint8Array {
  const out = new Uint8Array(list.length)
  for (let i = 0; i < list.length; i++) out[i] = values[list[i]]
  return out
}

/** 1 where a frame's pixel is good and shows what the empty state shows: nobody passes there. */
export function steadyPixels(
  f: Registered,
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
): Uint8Array {
  const out = new Uint8Array(level.length)
  for (let i = 0; i < out.length; i++) {
    const off = Math.abs(f.aligned[i] + f.light - level[i])
    out[i] = f.trust[i] === GOOD && off <= PASSING_SIGMA * spread[i] + PASSING_STOPS ? 1 : 0
  }
  return out
}

/**
 * RMS change of the surround from one frame to the next over the root of two, stops, where nobody passes; light matched.
 *
 * @param frames in order; @returns null where no two neighbours share a pixel
 */
export function unrestOf(
  frames: readonly Registered[],
  steady: ReadonlyMap<Registered, Uint8Array>,
  surround: Readonly<Int32Array>,
): number | null {
  const pairs = frames.flatMap((b, i) => {
    const a = frames[i - 1]
    const next = a !== undefined && a.plate === b.plate && a.frame + 1 === b.frame
    return next && steady.has(a) && steady.has(b) ? [{ a, b }] : []
  })
  const stride = Math.max(1, Math.floor(pairs.length / UNREST_PAIRS))
  let sum = 0
  let n = 0
  for (let k = 0; k < pairs.length; k += stride) {
    const { a, b } = pairs[k]
    const sa = steady.get(a)!
    const sb = steady.get(b)!
    for (const i of surround) {
      if (sa[i] === 0 || sb[i] === 0) continue
      sum += (b.aligned[i] + b.light - a.aligned[i] - a.light) ** 2
      n++
    }
  }
  return n > 0 ? Math.sqrt(sum / n / 2) : null
}
