// The match matrix: every target frame against every donor frame.

import type { Workspace } from '../../kernels/workspace.js'
import { subsample } from '../../match/subsample.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { decibelsOf } from '../../match/visible-error.js'
import type { Rect } from '../../raster/rect.js'
import { isStill, type Region, type RegionFrame } from '../../region/region.js'
import { keyOf } from '../../shot/frame-key.js'
import type { Steps } from '../../turns.js'
import type { Expected } from '../measure.js'
import { isWithinReach, type Pairs } from '../pairs.js'
import { gather, pixelLists } from '../pixel-lists.js'
import type { Registered } from '../register.js'
import { onCalmestSide } from './calmest-side.js'
import { Cells, type MatrixRow } from './cells.js'
import { Cleanliness } from './cleanliness.js'
import { type Known, viewOf } from './known.js'
import { PairFeatures } from './pair-features.js'
import { type Part, partsOf, wholeAsPart } from './region-parts.js'
import type { RegionView } from './region-view.js'
import { unoccupiedFrames } from './unoccupied.js'

export interface Matrix extends Pairs {
  /** Expected mean square error inside, in units of the best clean donor's; Infinity where the pair is out of reach. */
  cost(target: number, donor: number): number
  /** The same of a part of the region by itself. @param part its place among `parts` */
  costOf(target: number, donor: number, part: number): number
  /** Where the parts lie in the window that are judged by themselves; one where all of the region is judged at once. */
  readonly parts: readonly Rect[]
  /** What a cost of 1 is expected to come to by itself, mean square in code values of a display. */
  readonly unit: number
  /** What a cost comes to: dB inside the region, with its interval. @param donorsCost of a stack, that of its donors */
  expected(cost: number, donorsCost?: number): Expected
  /** Which of the states that may hold the donor shows as far as it is clean, from 0. */
  stateOf(donor: number): number
  /**
   * Per state that may hold, frames, whoever may lend, that show all of the region in it under the first mask, as far as luminance
   * tells.
   */
  readonly usual: readonly (readonly Registered[])[]
  /** 1 over the window where the donor shows none of the region's state that it shows most of under a mask. */
  dirt(donor: number, mask: RegionFrame): Readonly<Uint8Array>
}

/** Target frames that share one estimate of what the region most likely shows: light drifts little over so many. */
const BLOCK_FRAMES = 12
/** So many frames, spread evenly, tell what goes on beside the region. */
const BESIDE_FRAMES = 24

/**
 * @param known   what is known of the region, from all frames
 * @param targets in order of their frames, every one with a mask in `region`
 * @param donors  who may lend, in order of plate and frame
 */
export function* matchMatrix(
  workspace: Workspace,
  known: Known,
  region: Region,
  targets: readonly Registered[],
  donors: readonly Registered[],
  reachPx: number,
): Steps<Matrix, MatrixRow> {
  const { registration, spread, steady, model } = known
  const { window, minSpread, frames } = registration
  const placeOf = new Map(frames.map((f, i) => [f, i]))
  const columns = donors.map((d) => placeOf.get(d)!)
  const cells = new Cells(targets.length, frames.length, columns, known.parts.length)
  const isTarget = new Set(targets)
  const hidden = (i: number) => isTarget.has(frames[i])
  const cleanliness = new Cleanliness(workspace, known, region)
  yield* cleanliness.prepare()
  // A target's best is told without the target frames: it differs from itself by nothing, and from those beside it by little.
  const places = frames.map((_, i) => i)
  const others = places.filter((i) => !hidden(i))
  const all = Int32Array.from([...others, ...places.filter(hidden)])
  const still = isStill(region)
  let seen: Seen | undefined
  let round: Round[] = []
  let block = -1
  let unsettled = 0
  let apart = 0
  for (const [t, target] of targets.entries()) {
    yield
    const mask = region.frames.get(target.frame)!
    if (seen?.mask !== mask) {
      // Only one mask's view is held at a time: a mask sequence has one per target frame.
      seen?.done()
      seen = yield* seenThrough(workspace, mask, known)
      block = -1
    }
    const { parts } = seen
    if (parts[0].features.view.list.inside.length === 0) {
      yield cells.row(t, targets)
      continue
    }
    if (round.length === 0 || Math.floor(t / BLOCK_FRAMES) !== block) {
      block = Math.floor(t / BLOCK_FRAMES)
      // Of a mask sequence every frame is its own block.
      const ahead = still ? (Math.min((block + 1) * BLOCK_FRAMES, targets.length) - t) >> 1 : 0
      const middle = placeOf.get(targets[t + ahead])!
      round = []
      unsettled = 0
      let oneSide = 0
      for (const part of parts) {
        yield
        const { features, share } = part
        const around = features.around(middle, hidden)
        // Of two states each candidate says which it shows.
        const between = known.states.length > 1 ? null : features.apart(around)
        const step = model.unsettled(between)
        round.push({ ...part, regions: features.regionsOf(around, all), step })
        unsettled += share * step
        // Frames that a camera that moves took from elsewhere differ by how they are laid: no other side is told by that.
        if (!registration.followed && !features.tellsSide(middle, around)) oneSide += share * (between ?? 0)
      }
      apart = Math.max(apart, oneSide)
      yield
    }
    const rings = parts[0].features.rings(placeOf.get(target)!, all)
    const within = all.map((d) => (isWithinReach(target, frames[d], { window, reachPx }) ? 1 : 0))
    for (let k = 0; k < all.length; k++)
      if (within[k] === 1) cells.set(t, all[k], rings, k, cleanliness.shareOf(all[k], mask))
    for (const [p, { features, share, regions, step }] of round.entries()) {
      yield
      const row = features.row(placeOf.get(target)!, all, regions, others.length, rings)
      const expected = model.meanSquares(row)
      for (let k = 0; k < all.length; k++)
        if (within[k] === 1) cells.add({ t, d: all[k], part: p }, share, expected[k] + step / 2)
    }
    yield cells.row(t, targets)
  }
  seen?.done()
  const unit = cells.normalise()
  const anyMask = region.frames.get(targets[0].frame)!
  const best = decibelsOf(bestSingle(cells.cost, targets, frames) * unit)
  const behind = model.behind(best, apart)
  // Lessons of the whole region have it in their truth what falls there; parts that are empty for a moment have not.
  const beside =
    model.taught && model.ofParts === null
      ? 0
      : onCalmestSide(
          subsample(
            others.map((i) => frames[i]),
            BESIDE_FRAMES,
          ),
          known.features.view.list,
          registration.cleanPlate.level,
          window,
        )
  const shows = (d: number) => cleanliness.shareOf(d, anyMask) >= CLEAN_SHARE
  return {
    targets,
    donors,
    pair: (t, d) => cells.pair(t, columns[d], unit),
    cost: (t, d) => cells.cost[t * frames.length + columns[d]],
    costOf: (t, d, part) => cells.costOf(t, columns[d], part),
    parts: known.parts.map(({ box }) => box),
    // As decibels have it: never nothing.
    unit: 10 ** (-decibelsOf(Math.max(unit, beside)) / 10),
    expected: (cost, donorsCost) => {
      const ofDonors = donorsCost === undefined ? null : decibelsOf(donorsCost * unit)
      return model.expected(decibelsOf(cost * unit), best, behind, unsettled, ofDonors, decibelsOf(beside))
    },
    stateOf: (d) => cleanliness.stateOf(columns[d]),
    dirt: (d, mask) => cleanliness.dirtOf(columns[d], mask),
    usual: known.states.map((_, state) =>
      frames.filter((f, d) => !isTarget.has(f) && f.held && shows(d) && cleanliness.stateOf(d) === state),
    ),
    steady,
    frames,
    surround: pixelLists(anyMask, spread, minSpread).surround,
    window,
  }
}

/** A mask, and what of it is compared by itself. */
interface Seen {
  readonly mask: RegionFrame
  readonly parts: readonly Part[]
  readonly done: () => void
}

/** A part, and how far each donor's region lies from what is seen of it round the target. */
interface Round extends Part {
  readonly regions: Float32Array
  /** Its step that no lesson tells of, as the model has it. */
  readonly step: number
}

/** A mask's view with what it takes to compare pairs. The one that is known already is not made again: a still mask's. */
function* seenThrough(workspace: Workspace, mask: RegionFrame, known: Known): Steps<Seen, never> {
  if (mask === known.features.view.mask) return { mask, parts: known.parts, done: () => {} }
  const { registration, spread, steady, usual } = known
  const view = viewOf(workspace, mask, registration, spread)
  yield* view.prepare(steady)
  const unoccupied = (of: RegionView) => unoccupiedFrames(of, gather(usual, of.list.own), false)
  const features = new PairFeatures(view, yield* unoccupied(view), registration.window)
  const parts = known.parts.length > 1 ? yield* partsOf(features, unoccupied) : []
  const done = () => {
    view.release()
    for (const part of parts) part.features.view.release()
  }
  return { mask, parts: parts.length > 0 ? parts : [wholeAsPart(features)], done }
}

/** The least cost that one frame has that is held over the range, or a run of frames that move along with the target. */
function bestSingle(
  cost: Readonly<Float64Array>,
  targets: readonly Registered[],
  frames: readonly Registered[],
): number {
  const [first] = targets
  const isTarget = new Set(targets)
  const places = new Map(frames.flatMap((f, d) => (isTarget.has(f) ? [] : [[keyOf(f), d]])))
  let best = Number.POSITIVE_INFINITY
  for (const [d, f] of frames.entries()) {
    if (isTarget.has(f)) continue
    const { plate, frame } = f
    let held = 0
    let run = 0
    for (const [t, target] of targets.entries()) {
      held += cost[t * frames.length + d]
      const along = places.get(keyOf({ plate, frame: frame + target.frame - first.frame }))
      run += along === undefined ? Number.POSITIVE_INFINITY : cost[t * frames.length + along]
    }
    best = Math.min(best, held / targets.length, run / targets.length)
  }
  return Number.isFinite(best) ? best : 1
}
