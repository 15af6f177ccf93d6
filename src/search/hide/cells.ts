// The numbers of all pairs of a search: each target frame against each frame that is known, whether it may lend or not.

import { CLEAN_SHARE } from '../../match/thresholds.js'
import { decibelsOf } from '../../match/visible-error.js'
import type { Pair } from '../pairs.js'
import type { Registered } from '../register.js'
import type { RingPairs } from './region-view.js'

/** One target frame against all donors, in their order; NaN where a pair is out of reach or nothing of it is seen. */
export interface MatrixRow {
  readonly target: number
  /** Rows that are there, of all. */
  readonly done: number
  readonly total: number
  readonly ncc: Float32Array
  readonly stops: Float32Array
  readonly seam: Float32Array
  readonly clean: Float32Array
}

/** One number of each kind per pair of a target with any frame; NaN inside, null outside. */
export class Cells {
  readonly ncc: Float32Array
  readonly stops: Float32Array
  readonly seam: Float32Array
  readonly clean: Float32Array
  readonly cost: Float64Array
  /** Of each part by itself; none where there is one. */
  readonly #ofParts: Float64Array[]

  /**
   * @param columns the frames that may lend
   * @param parts   of the region, how many
   */
  constructor(
    readonly targets: number,
    readonly frames: number,
    readonly columns: readonly number[],
    parts: number,
  ) {
    const size = targets * frames
    this.#ofParts = Array.from({ length: parts > 1 ? parts : 0 }, () => new Float64Array(size))
    this.ncc = new Float32Array(size).fill(Number.NaN)
    this.stops = new Float32Array(size).fill(Number.NaN)
    this.seam = new Float32Array(size).fill(Number.NaN)
    this.clean = new Float32Array(size).fill(Number.NaN)
    this.cost = new Float64Array(size).fill(Number.POSITIVE_INFINITY)
  }

  /** A pair that is within reach, its cost still 0. @param k its place among the rings */
  set(t: number, d: number, rings: RingPairs, k: number, clean: number): void {
    const at = t * this.frames + d
    this.clean[at] = clean
    this.cost[at] = 0
    this.ncc[at] = rings.ncc[k]
    this.stops[at] = rings.stops[k]
    this.seam[at] = rings.seam[k]
  }

  /** Adds a part's cost. @param share of the region; 1: it is all there is, whatever parts there were */
  add({ t, d, part }: { t: number; d: number; part: number }, share: number, cost: number): void {
    const at = t * this.frames + d
    this.cost[at] += share * cost
    if (share < 1) this.#ofParts[part][at] = cost
    else for (const all of this.#ofParts) all[at] = cost
  }

  costOf(t: number, d: number, part: number): number {
    const at = t * this.frames + d
    return (Number.isFinite(this.cost[at]) ? this.#ofParts[part]?.[at] : undefined) ?? this.cost[at]
  }

  /**
   * Puts costs into units of the best clean frame held over the range, or of the best frames one by one: of all frames that
   * are known, lent or not, so that a pair's numbers never hang on who else may lend. @returns the unit
   */
  normalise(): number {
    const unit = this.#bestClean() ?? this.#bestByFrame()
    if (!(unit > 0)) return 1
    for (const costs of [this.cost, ...this.#ofParts]) for (let i = 0; i < costs.length; i++) costs[i] /= unit
    return unit
  }

  #bestClean(): number | null {
    let best = Number.POSITIVE_INFINITY
    for (let d = 0; d < this.frames; d++) {
      let sum = 0
      for (let t = 0; t < this.targets; t++) {
        const at = t * this.frames + d
        sum += this.clean[at] >= CLEAN_SHARE ? this.cost[at] : Number.POSITIVE_INFINITY
      }
      best = Math.min(best, sum / this.targets)
    }
    return Number.isFinite(best) ? best : null
  }

  #bestByFrame(): number {
    let sum = 0
    let n = 0
    for (let t = 0; t < this.targets; t++) {
      const best = Math.min(...this.cost.subarray(t * this.frames, (t + 1) * this.frames))
      if (!Number.isFinite(best)) continue
      sum += best
      n++
    }
    return n > 0 ? sum / n : 1
  }

  /** A row as it stands before costs have their unit, of those that may lend. */
  row(t: number, targets: readonly Registered[]): MatrixRow {
    const of = (values: Float32Array) => Float32Array.from(this.columns, (d) => values[t * this.frames + d])
    return {
      target: targets[t].frame,
      done: t + 1,
      total: targets.length,
      ncc: of(this.ncc),
      stops: of(this.stops),
      seam: of(this.seam),
      clean: of(this.clean),
    }
  }

  pair(t: number, d: number, unit: number): Pair {
    const at = t * this.frames + d
    const value = (v: number): number | null => (Number.isFinite(v) ? v : null)
    return {
      ncc: value(this.ncc[at]),
      stops: value(this.stops[at]),
      seam: value(this.seam[at]),
      expected: Number.isFinite(this.cost[at]) ? decibelsOf(this.cost[at] * unit) : null,
      clean: value(this.clean[at]),
    }
  }
}
