// Where a lift ends with a step: at the mask's edge, or where the donor's frame ends, the light has changed and nothing shows
// that it would stop there. Where it does by itself, at the end of a shadow or of what it falls on, nothing is cut off.
import { STEP_STOPS, VISIBLE_CODE, VISIBLE_STOPS } from '../../match/thresholds.js'
import { displaySlope } from '../../match/visible-error.js'
import { intersect, type Rect, unite } from '../../raster/rect.js'
import { type Offset, shiftOf } from '../../raster/transform.js'
import type { Region } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { BEYOND, type Edges, edgesOf, RUN_PX, runMeans, SIDES, type Side } from '../mask-edges.js'
import type { Registered } from '../register.js'
import type { Measured } from './changes.js'
import { type ChangeAt, UnlitLevel } from './unlit-level.js'

/** So many pixels on either side of an edge tell of it. */
const DEEP_PX = 2
/** A step of less than so many times what unlit frames step by at the place is grain. */
const STEP_SIGMA = 4
/**
 * A step of less than so many times what the surface varies by round about does not show: looked at, steps of 0.1 to 0.5 stops on brick,
 * planks, plaster, foliage, gravel and tiles showed from 0.1 to more than 0.5 on, from 1.5 to 2 times.
 */
const TEXTURE_TIMES = 1.5
/** The surface is looked at so far on either side of the edge, pixels. */
const ROUND_PX = 8
/** A mask holds a pixel from this weight on. */
const CORE = 0.5

/** The largest step of light on which a lift ends. */
export interface EdgeStep {
  /** Without sign; where no side shows one, 0. */
  readonly stops: number
  /** The target frame on which it is so large, and how many pixels of that edge show it there. */
  readonly target: number
  readonly px: number
  /** The edges on which one shows on any frame, in the order of SIDES. */
  readonly sides: readonly Side[]
  /** The mask goes on there, and the donor's frame does not. */
  readonly atFrameEnd: boolean
  /** By how much a mask would have to grow to hold what runs on, pixels; null: further than is seen. */
  readonly growPx: number | null
}

/** Where a lift comes from, and where it goes. */
export interface EdgeSource {
  readonly measured: Pick<Measured, 'grid' | 'changes'>
  /** The searched surface. */
  readonly region: Pick<Region, 'window'>
  /** Moves it onto the region that is lent to. */
  readonly carry: Offset
  readonly lentTo: Pick<Region, 'window' | 'frames'>
  /** What of a frame holds picture, by plate. */
  readonly pictures: readonly Rect[]
}

export interface Pair {
  readonly target: Registered
  readonly donor: Registered
}

/** The pixel of the searched window so many pixels beyond a pixel of the mask, inside it from 0 down; -1: beyond the window. */
type Place = (pixel: number, beyond: number) => number

/** Finds the steps of one search's candidates. */
export class EdgeSteps {
  /** By what the frames hold of a mask: still ones serve all frames. */
  readonly #edges = new WeakMap<Readonly<Float32Array>, Map<string, Edges>>()

  constructor(readonly source: EdgeSource) {}

  /**
   * @param lifts frames of the moment on their targets, and how much of its stops a lift has there, 0 to 1
   * @param unlit frames of its reference state, in order
   */
  *of(
    lifts: readonly (Pair & { readonly share: number })[],
    unlit: readonly Registered[],
    peak: number,
  ): Steps<EdgeStep> {
    if (unlit.length === 0) return { stops: 0, target: 0, px: 0, sides: [], atFrameEnd: false, growPx: 0 }
    const level = new UnlitLevel(this.source.measured, unlit, peak)
    let worst = { stops: 0, target: 0, px: 0, atFrameEnd: false }
    const sides = new Set<Side>()
    let growPx: number | null = 0
    const limits = new Map<Int32Array, Float64Array>()
    for (const { share, ...pair } of lifts) {
      yield
      const edges = this.#edgesOf(pair, unlit)
      const changeOn = level.changeOn(pair.donor)
      const changeAt = (i: number) => share * changeOn(i)
      for (const side of SIDES) {
        const pixels = edges[side]
        const place = this.#placeOf(pair.target, side)
        const least = limits.get(pixels) ?? this.#leastAlong(pixels, place, level, unlit)
        limits.set(pixels, least)
        const steps = stepsAlong(pixels, place, changeAt)
        const showing = [...steps.keys()].filter((run) => Math.abs(steps[run]) > least[run])
        if (showing.length === 0) continue
        sides.add(side)
        const most = showing.reduce((a, b) => (Math.abs(steps[b]) > Math.abs(steps[a]) ? b : a))
        const stops = Math.abs(steps[most])
        if (stops > worst.stops) {
          const px = Math.max(RUN_PX, showing.length)
          const atFrameEnd = this.#isWithin(pixels[most], side, pair.target)
          worst = { stops, target: pair.target.frame, px, atFrameEnd }
        }
        for (const run of showing) {
          if (growPx === null) break
          const runPixels = pixels.subarray(run, run + pixels.length - steps.length + 1)
          const runsOn = reachOf(runPixels, place, changeAt)
          growPx = runsOn === null ? null : Math.max(growPx, runsOn)
        }
      }
    }
    return { ...worst, sides: SIDES.filter((side) => sides.has(side)), growPx }
  }

  /** Whether the mask goes on beyond an edge of what is lifted. */
  #isWithin(pixel: number, side: Side, target: Registered): boolean {
    const { window, frames } = this.source.lentTo
    const [dx, dy] = BEYOND[side]
    return frames.get(target.frame)!.inside[pixel + dy * window.w + dx] >= CORE
  }

  /** Where a target's pixels lie in the searched window: what to add. */
  #shift(target: Registered): { right: number; down: number } {
    const { region, carry, lentTo } = this.source
    const { dx, dy } = shiftOf(target.pose, region.window)
    return {
      right: Math.round(lentTo.window.x + dx - carry.dx - region.window.x),
      down: Math.round(lentTo.window.y + dy - carry.dy - region.window.y),
    }
  }

  #placeOf(target: Registered, side: Side): Place {
    const { region, lentTo } = this.source
    const { w, h } = region.window
    const { right, down } = this.#shift(target)
    const [dx, dy] = BEYOND[side]
    return (pixel, beyond) => {
      const x = (pixel % lentTo.window.w) + right + dx * beyond
      const y = Math.floor(pixel / lentTo.window.w) + down + dy * beyond
      return x < 0 || y < 0 || x >= w || y >= h ? -1 : y * w + x
    }
  }

  /** The edges of what is lifted: of the mask, as far as the donor's picture goes, or the unlit frames'. */
  #edgesOf({ target, donor }: Pair, unlit: readonly Registered[]): Edges {
    const { window, frames } = this.source.lentTo
    const { inside } = frames.get(target.frame)!
    const shown = [donor, unlit[unlit.length >> 1]].map((frame) => this.#pictureOn(target, frame))
    const { x, y, w, h } = intersect(unite(shown[0], shown[1]), { ...window, x: 0, y: 0 })
    const known = this.#edges.get(inside) ?? new Map<string, Edges>()
    this.#edges.set(inside, known)
    const key = [x, y, w, h].join(' ')
    const edges =
      known.get(key) ??
      edgesOf(window.w, window.h, (i) => {
        const [u, v] = [i % window.w, Math.floor(i / window.w)]
        return inside[i] >= CORE && u >= x && v >= y && u < x + w && v < y + h
      })
    known.set(key, edges)
    return edges
  }

  /** What of the target's window another frame's picture covers. */
  #pictureOn(target: Registered, frame: Registered): Rect {
    const { region, pictures } = this.source
    const { right, down } = this.#shift(target)
    const { dx, dy } = shiftOf(frame.pose, region.window)
    const { x, y, w, h } = pictures[frame.plate]
    return {
      x: Math.round(x + dx - region.window.x) - right,
      y: Math.round(y + dy - region.window.y) - down,
      w,
      h,
    }
  }

  /**
   * Per run, the least step that shows, stops: more than grain does, and than the surface hides by its dark, its texture or its own
   * edge. Where a mask ends with what it lies on no line is new there. Of texture where the region is another surface nothing is known.
   */
  #leastAlong(
    pixels: Int32Array,
    place: Place,
    level: UnlitLevel,
    unlit: readonly Registered[],
  ): Float64Array {
    const { dx, dy } = this.source.carry
    const isOwn = dx === 0 && dy === 0
    const grain = grainAlong(pixels, place, level, unlit)
    const { mean, deviation } = surfaceAlong(pixels, place, level)
    return mean.map((own, run) =>
      Math.max(
        STEP_STOPS,
        STEP_SIGMA * grain[run],
        // Where nothing is known of the surface, it hides nothing.
        isOwn ? TEXTURE_TIMES * deviation[run] || 0 : 0,
        // Twice what no eye sees, as the least step is.
        (2 * VISIBLE_CODE) / displaySlope(own) || 0,
      ),
    )
  }
}

/**
 * Per run of an edge, the step with its sign, stops: the change inside as far as it goes on beyond. What lies beyond may be hidden,
 * or off the donor's frame: then all of it is a step, as nothing shows that it ends there.
 */
function stepsAlong(pixels: Int32Array, place: Place, changeAt: ChangeAt): Float64Array {
  const within = runMeans(Float64Array.from(pixels, (pixel) => inside(pixel, place, changeAt)))
  const without = runMeans(Float64Array.from(pixels, (pixel) => beyond(pixel, place, changeAt)))
  return within.map((here, run) => {
    const there = Number.isNaN(without[run]) ? here : without[run]
    if (Number.isNaN(here) || here * there <= 0) return 0
    return Math.abs(there) < Math.abs(here) ? there : here
  })
}

/** What unlit frames step by along an edge, RMS per run. */
function grainAlong(
  pixels: Int32Array,
  place: Place,
  level: UnlitLevel,
  unlit: readonly Registered[],
): Float64Array {
  const all = unlit.map((frame) => stepsAlong(pixels, place, level.changeOn(frame)))
  return (all[0] ?? new Float64Array()).map((_, run) =>
    Math.sqrt(all.reduce((sum, steps) => sum + steps[run] ** 2, 0) / all.length),
  )
}

/** Per run, the mean and the standard deviation of the unlit surface round about; NaN where it is not known. */
function surfaceAlong(
  pixels: Int32Array,
  place: Place,
  level: UnlitLevel,
): { readonly mean: Float64Array; readonly deviation: Float64Array } {
  const sums = new Float64Array(pixels.length)
  const squares = new Float64Array(pixels.length)
  for (const [k, pixel] of pixels.entries()) {
    let n = 0
    for (let px = 1 - ROUND_PX; px <= ROUND_PX; px++) {
      const own = level.at(place(pixel, px), level.peak)
      if (Number.isNaN(own)) continue
      n++
      sums[k] += own
      squares[k] += own * own
    }
    sums[k] /= n
    squares[k] /= n
  }
  const mean = runMeans(sums)
  return {
    mean,
    deviation: runMeans(squares).map((square, run) => Math.sqrt(Math.max(0, square - mean[run] ** 2))),
  }
}

const inside = (pixel: number, place: Place, valueAt: ChangeAt) =>
  meanFrom(1 - DEEP_PX, pixel, place, valueAt)
const beyond = (pixel: number, place: Place, valueAt: ChangeAt) => meanFrom(1, pixel, place, valueAt)

/** Over the pixels of a line across the edge from one on. */
function meanFrom(first: number, pixel: number, place: Place, valueAt: ChangeAt): number {
  let sum = 0
  let n = 0
  for (let k = first; k < first + DEEP_PX; k++) {
    const value = valueAt(place(pixel, k))
    if (Number.isNaN(value)) continue
    sum += value
    n++
  }
  return n > 0 ? sum / n : Number.NaN
}

/** How far beyond a run the light goes on changing until no eye sees it, pixels; null: further than is known. */
function reachOf(run: Int32Array, place: Place, changeAt: ChangeAt): number | null {
  for (let px = 0; ; px++) {
    let sum = 0
    let n = 0
    for (const pixel of run) {
      const value = meanFrom(px + 1, pixel, place, changeAt)
      if (Number.isNaN(value)) continue
      sum += value
      n++
    }
    if (n === 0) return null
    if (Math.abs(sum / n) < VISIBLE_STOPS) return px
  }
}
