// The match matrix: every target frame against every donor frame.

import type { Held, Workspace } from '../../kernels/workspace.js'
import { cleanShare, explainedSpread, markDirty } from '../../match/clean.js'
import { expectedSquare, likelyRegion, measureDrift } from '../../match/expect.js'
import { INVALID } from '../../match/log-luminance.js'
import { type Centred, sumCentred } from '../../match/ncc.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import type { Region, RegionFrame } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { isWithinReach, matchRings, type Pair, type Pairs, type Reach, type Ring, ringOf } from '../pairs.js'
import { gatherBits, type PixelLists, pixelLists, steadyPixels } from '../pixel-lists.js'
import type { Registered, Registration } from '../register.js'

export interface Matrix extends Pairs {
  /** `inside` squared; Infinity where the pair is out of reach. */
  cost(target: number, donor: number): number
}

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

/** Target frames that share one estimate of what the region most likely shows: light drifts little over so many. */
const BLOCK_FRAMES = 12

/**
 * @param targets in order of their frames, every one with a mask in `region`
 * @param donors  in order of plate and frame
 */
export function* matchMatrix(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
  donors: readonly Registered[],
  reachPx: number,
): Steps<Matrix, MatrixRow> {
  const { cleanPlate, window, minSpread } = registration
  const anyMask = region.frames.get(targets[0].frame)!
  const spread = explainedSpread(cleanPlate, anyMask.surround, minSpread)
  const { box } = region
  const part = { ...box, x: box.x - window.x, y: box.y - window.y }
  const against = ({ aligned, validity, exposure }: Registered) => ({
    aligned,
    validity,
    exposure,
    level: cleanPlate.level,
    spread,
  })
  const dirt: Uint8Array[] = []
  for (const d of donors) {
    yield
    const dirty = new Uint8Array(window.w * window.h)
    markDirty(workspace, against(d), window.w, dirty, part)
    dirt.push(dirty)
  }
  const steady = new Map<Registered, Uint8Array>()
  for (const f of [...targets, ...donors]) {
    yield
    if (!steady.has(f)) steady.set(f, steadyPixels(workspace, against(f)))
  }
  const cells = new Cells(targets.length, donors.length)
  let view: MaskView | undefined
  let block = -1
  for (const [t, target] of targets.entries()) {
    yield
    const mask = region.frames.get(target.frame)!
    if (view?.mask !== mask) {
      // Only one mask's rings are held at a time: a mask sequence has one per target frame.
      view?.release()
      view = new MaskView(workspace, mask, donors, spread, minSpread)
      yield* view.prepare(dirt, steady)
      block = -1
    }
    if (view.list.inside.length === 0) {
      yield cells.row(t, targets)
      continue
    }
    if (Math.floor(t / BLOCK_FRAMES) !== block) {
      block = Math.floor(t / BLOCK_FRAMES)
      // Of a mask sequence every frame is its own block.
      const still = targets[t + 1] !== undefined && region.frames.get(targets[t + 1].frame) === mask
      const ahead = still ? (Math.min((block + 1) * BLOCK_FRAMES, targets.length) - t) >> 1 : 0
      const middle = targets[t + ahead]
      view.expectAround(middle, cleanPlate.level)
      yield
    }
    view.compare(target, t, steady.get(target)!, cells, { window, reachPx })
    yield cells.row(t, targets)
  }
  view?.release()
  cells.normalise()
  return {
    targets,
    donors,
    pair: (t, d) => cells.pair(t, d),
    cost: (t, d) => cells.cost[t * donors.length + d],
    steady,
    frames: registration.frames,
    surround: pixelLists(anyMask, spread, minSpread).surround,
    window,
  }
}

/** All donors as seen through one mask. */
class MaskView {
  readonly list: PixelLists
  /** What every target is compared with lies in the workspace. */
  readonly #held: Held
  readonly #clean: number[] = []
  readonly #rings: Ring<Uint8Array>[] = []
  readonly #own: Centred[] = []
  readonly #ownValidity: Uint8Array[] = []
  /** Donors that are clean. */
  #good: readonly Registered[] = []
  #drift: (gap: number) => number = () => 0
  /** Per donor, mean square distance from what the region most likely shows. */
  #ownSquare: readonly number[] = []

  constructor(
    readonly workspace: Workspace,
    readonly mask: RegionFrame,
    readonly donors: readonly Registered[],
    spread: Readonly<Float32Array>,
    minSpread: number,
  ) {
    this.list = pixelLists(mask, spread, minSpread)
    this.#held = workspace.hold()
  }

  /** Nothing must be asked of it afterwards. */
  release(): void {
    this.#held.release()
  }

  /** Gathers what is compared of every donor. */
  *prepare(dirt: readonly Uint8Array[], steady: ReadonlyMap<Registered, Uint8Array>): Steps<void, never> {
    const { donors } = this
    const { compared, inside, insideWeight, own } = this.list
    const n = compared.length
    const rings = this.#held.floats(n * donors.length)
    const validities = this.#held.bytes(n * donors.length)
    const m = own.length
    const owns = this.#held.floats(m * donors.length)
    const ownValidities = this.#held.bytes(m * donors.length)
    for (const [k, d] of donors.entries()) {
      yield
      const [from, to] = [k * n, (k + 1) * n]
      const [validity, ring] = [validities.subarray(from, to), rings.subarray(from, to)]
      this.#rings.push(ringOf(d, steady.get(d)!, compared, validity, ring))
      const shown = ownValidities.subarray(k * m, (k + 1) * m)
      const samples = owns.subarray(k * m, (k + 1) * m)
      for (let i = 0; i < m; i++) {
        shown[i] = d.validity[own[i]] === INVALID ? 0 : 1
        samples[i] = d.aligned[own[i]] + d.exposure
      }
      this.#ownValidity.push(shown)
      this.#own.push({ base: 0, samples })
      this.#clean.push(cleanShare(gatherBits(dirt[k], inside), insideWeight) ?? Number.NaN)
    }
    yield
    this.#good = donors.filter((d, i) => d.held && this.#clean[i] >= CLEAN_SHARE)
    this.#drift = measureDrift(this.#good, inside)
    yield
  }

  /** Works out how far every donor's region lies from what the region most likely shows at a target frame. */
  expectAround(target: Registered, level: Readonly<Float32Array>): void {
    const { own, ownWeight } = this.list
    const likely = likelyRegion(this.#good, target.plate, target.frame, level, own)
    let all = 0
    for (const w of ownWeight) all += w
    this.#ownSquare = this.#own.map((samples, d) => {
      const { weight, squareDifference } = sumCentred(
        this.workspace,
        { base: 0, samples: likely },
        samples,
        ownWeight,
        this.#ownValidity[d],
      )
      // A hole can't be lent: it costs as much as a full stop of difference.
      return (squareDifference + all - weight) / all
    })
  }

  compare(target: Registered, t: number, steady: Readonly<Uint8Array>, cells: Cells, reach: Reach): void {
    const { compared } = this.list
    const n = compared.length
    this.workspace.within((scratch) => {
      const ring = ringOf(target, steady, compared, scratch.floats(n), scratch.floats(n))
      this.#compareRing(target, t, ring, cells, reach)
    })
  }

  #compareRing(target: Registered, t: number, ring: Ring<Float32Array>, cells: Cells, reach: Reach): void {
    const { surroundSpread } = this.list
    for (const [d, donor] of this.donors.entries()) {
      if (!isWithinReach(target, donor, reach)) continue
      const at = t * this.donors.length + d
      const gap =
        donor.plate === target.plate ? Math.abs(donor.frame - target.frame) : Number.POSITIVE_INFINITY
      const drift = this.#drift(gap)
      cells.clean[at] = this.#clean[d]
      const match = matchRings(this.workspace, ring, this.#rings[d], surroundSpread)
      if (match === null) {
        // Nothing to see of the light or the seam: as bad as a surround that differs by all its drift.
        cells.cost[at] = expectedSquare(this.#ownSquare[d], drift, 4 * (drift + surroundSpread ** 2))
        continue
      }
      cells.ncc[at] = match.ncc ?? Number.NaN
      cells.stops[at] = match.stops ?? Number.NaN
      cells.seam[at] = match.seam ?? Number.NaN
      cells.cost[at] = expectedSquare(this.#ownSquare[d], drift, match.residual * match.residual)
    }
  }
}

/** One number of each kind per pair; NaN inside, null outside. */
class Cells {
  readonly ncc: Float32Array
  readonly stops: Float32Array
  readonly seam: Float32Array
  readonly clean: Float32Array
  readonly cost: Float64Array

  constructor(
    readonly targets: number,
    readonly donors: number,
  ) {
    const size = targets * donors
    this.ncc = new Float32Array(size).fill(Number.NaN)
    this.stops = new Float32Array(size).fill(Number.NaN)
    this.seam = new Float32Array(size).fill(Number.NaN)
    this.clean = new Float32Array(size).fill(Number.NaN)
    this.cost = new Float64Array(size).fill(Number.POSITIVE_INFINITY)
  }

  /** Puts costs into units of the best clean donor held over the range, or of the best donors frame by frame. */
  normalise(): void {
    const unit = this.#bestHeld() ?? this.#bestByFrame()
    if (!(unit > 0)) return
    for (let i = 0; i < this.cost.length; i++) this.cost[i] /= unit
  }

  #bestHeld(): number | null {
    let best = Number.POSITIVE_INFINITY
    for (let d = 0; d < this.donors; d++) {
      let sum = 0
      for (let t = 0; t < this.targets; t++) {
        const at = t * this.donors + d
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
      const best = Math.min(...this.cost.subarray(t * this.donors, (t + 1) * this.donors))
      if (!Number.isFinite(best)) continue
      sum += best
      n++
    }
    return n > 0 ? sum / n : 1
  }

  /** A row as it stands before costs have their unit. */
  row(t: number, targets: readonly Registered[]): MatrixRow {
    const of = (values: Float32Array) => values.slice(t * this.donors, (t + 1) * this.donors)
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

  pair(t: number, d: number): Pair {
    const at = t * this.donors + d
    const value = (v: number): number | null => (Number.isFinite(v) ? v : null)
    return {
      ncc: value(this.ncc[at]),
      stops: value(this.stops[at]),
      seam: value(this.seam[at]),
      inside: value(Math.sqrt(this.cost[at])),
      clean: value(this.clean[at]),
    }
  }
}
