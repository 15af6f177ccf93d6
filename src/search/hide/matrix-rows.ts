// What each pair of a target frame with any other frame is expected to differ by inside the region, target by target. What is
// seen of the region round a target is the same for a block of them.

import type { Workspace } from '../../kernels/workspace.js'
import { isStill, type Region, type RegionFrame } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { isWithinReach } from '../pairs.js'
import { gather } from '../pixel-lists.js'
import type { Registered } from '../register.js'
import type { Cells, MatrixRow } from './cells.js'
import type { Cleanliness } from './cleanliness.js'
import { type Known, viewOf } from './known.js'
import { PairFeatures } from './pair-features.js'
import { type Part, partsOf, wholeAsPart } from './region-parts.js'
import type { RegionView } from './region-view.js'
import { unoccupiedFrames } from './unoccupied.js'

/** Target frames that share one estimate of what the region most likely shows: light drifts little over so many. */
const BLOCK_FRAMES = 12

export interface RowsJob {
  readonly workspace: Workspace
  readonly known: Known
  readonly region: Region
  /** In order of their frames, every one with a mask in `region`. */
  readonly targets: readonly Registered[]
  readonly reachPx: number
  /** Prepared. */
  readonly cleanliness: Cleanliness
}

/** What no lesson tells of the region's change from before the targets to after them, as `ErrorModel` has it; mean squares. */
export interface Change {
  /** The step that is in what is expected, in the mean of all target frames that show any of the region. */
  readonly unsettled: number
  /** How far the sides lie apart where the surround does not tell which of them a target shows, of the block where that is most. */
  readonly apart: number
}

/** Frames in the order in which they are compared, by their places: a target's best is told by those that are no targets. */
interface Compared {
  readonly all: Int32Array
  /** The first so many: a target differs from itself by nothing, and from those beside it by little. */
  readonly others: number
  readonly isHidden: (place: number) => boolean
}

/** Fills the cells, and gives each row when it is there. */
export function* estimated(cells: Cells, job: RowsJob): Steps<Change, MatrixRow> {
  const { workspace, known, region, targets } = job
  const { frames } = known.registration
  const compared = comparedOf(frames, targets)
  const placeOf = new Map(frames.map((f, i) => [f, i]))
  const still = isStill(region)
  let seen: Seen | undefined
  let block: Block | undefined
  let unsettled = 0
  let shown = 0
  let apart = 0
  for (const [t, target] of targets.entries()) {
    yield
    const mask = region.frames.get(target.frame)!
    if (seen?.mask !== mask) {
      // Only one mask's view is held at a time: a mask sequence has one per target frame.
      seen?.done()
      seen = yield* seenThrough(workspace, mask, known)
      block = undefined
    }
    if (seen.parts[0].features.view.list.inside.length === 0) {
      yield cells.row(t, targets)
      continue
    }
    if (block === undefined || t >= block.end) {
      const end = blockEnd(targets, t)
      // Of a mask sequence every frame is its own block.
      const ahead = still ? (end - t) >> 1 : 0
      const middle = placeOf.get(targets[t + ahead])!
      block = yield* blockRound(known, seen.parts, middle, compared, end)
      apart = Math.max(apart, block.apart)
      yield
    }
    unsettled += block.unsettled
    shown++
    yield* fillRow(cells, job, compared, block.rounds, t)
    yield cells.row(t, targets)
  }
  seen?.done()
  return { unsettled: unsettled / Math.max(1, shown), apart }
}

/** The place after the block's last target: of two ranges each has its own, as what is seen round one tells nothing of the other. */
function blockEnd(targets: readonly Registered[], t: number): number {
  const most = (Math.floor(t / BLOCK_FRAMES) + 1) * BLOCK_FRAMES
  const far = targets.findIndex(({ frame }) => frame >= targets[t].frame + BLOCK_FRAMES)
  return Math.min(most, far < 0 ? targets.length : far)
}

function comparedOf(frames: readonly Registered[], targets: readonly Registered[]): Compared {
  const isTarget = new Set(targets)
  const isHidden = (place: number) => isTarget.has(frames[place])
  const places = frames.map((_, i) => i)
  const others = places.filter((i) => !isHidden(i))
  return { all: Int32Array.from([...others, ...places.filter(isHidden)]), others: others.length, isHidden }
}

/** A part, and how far each donor's region lies from what is seen of it round the target. */
interface Round extends Part {
  readonly regions: Float32Array
  /** Its step that no lesson tells of, as the model has it. */
  readonly step: number
}

/** What is seen of the region round some target frames. */
interface Block extends Change {
  readonly rounds: readonly Round[]
  /** The first target frame that it does not serve, by its place. */
  readonly end: number
}

/** @param middle the target frame that it is told round, by its place among all frames */
function* blockRound(
  { registration, model, states }: Known,
  parts: readonly Part[],
  middle: number,
  { all, isHidden }: Compared,
  end: number,
): Steps<Block, never> {
  const rounds: Round[] = []
  let unsettled = 0
  let apart = 0
  for (const part of parts) {
    yield
    const { features, share } = part
    const around = features.around(middle, isHidden)
    // Of two states each candidate says which it shows.
    const between = states.length > 1 ? null : features.apart(around)
    const step = model.unsettled(between)
    rounds.push({ ...part, regions: features.regionsOf(around, all), step })
    unsettled += share * step
    // Frames that a camera that moves took from elsewhere differ by how they are laid: no other side is told by that.
    if (!registration.followed && !features.tellsSide(middle, around)) apart += share * (between ?? 0)
  }
  return { rounds, end, unsettled, apart }
}

/** One target against all frames that lie within reach of it. @param t its place among the targets */
function* fillRow(
  cells: Cells,
  { known: { registration, model }, targets, reachPx, cleanliness, region }: RowsJob,
  { all, others }: Compared,
  rounds: readonly Round[],
  t: number,
): Steps<void, never> {
  const { frames, window } = registration
  const target = targets[t]
  const mask = region.frames.get(target.frame)!
  const place = frames.indexOf(target)
  const rings = rounds[0].features.rings(place, all)
  const within = all.map((d) => (isWithinReach(target, frames[d], { window, reachPx }) ? 1 : 0))
  for (let k = 0; k < all.length; k++)
    if (within[k] === 1) cells.set(t, all[k], rings, k, cleanliness.shareOf(all[k], mask))
  for (const [part, { features, share, regions, step }] of rounds.entries()) {
    yield
    const row = features.row(place, all, regions, others, rings)
    const expected = model.meanSquares(row)
    for (let k = 0; k < all.length; k++)
      if (within[k] === 1) cells.add({ t, d: all[k], part }, share, expected[k] + step / 2)
  }
}

/** A mask, and what of it is compared by itself. */
interface Seen {
  readonly mask: RegionFrame
  readonly parts: readonly Part[]
  readonly done: () => void
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
