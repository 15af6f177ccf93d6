// The match matrix: every target frame against every donor frame.

import type { Workspace } from '../../kernels/workspace.js'
import { subsample } from '../../match/subsample.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { decibelsOf } from '../../match/visible-error.js'
import type { Rect } from '../../raster/rect.js'
import type { Region, RegionFrame } from '../../region/region.js'
import { keyOf } from '../../shot/frame-key.js'
import type { Steps } from '../../turns.js'
import type { Expected } from '../measure.js'
import type { Pairs } from '../pairs.js'
import { pixelLists } from '../pixel-lists.js'
import type { Registered } from '../register.js'
import { onCalmestSide } from './calmest-side.js'
import { Cells, type MatrixRow } from './cells.js'
import { Cleanliness } from './cleanliness.js'
import type { Known } from './known.js'
import { estimated } from './matrix-rows.js'

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
  const isTarget = new Set(targets)
  const cleanliness = new Cleanliness(workspace, known, region)
  yield* cleanliness.prepare()
  const cells = new Cells(targets.length, frames.length, columns, known.parts.length)
  const { unsettled, apart } = yield* estimated(cells, {
    workspace,
    known,
    region,
    targets,
    reachPx,
    cleanliness,
  })
  const unit = cells.normalise()
  const anyMask = region.frames.get(targets[0].frame)!
  const best = decibelsOf(bestSingle(cells.cost, targets, frames) * unit)
  const behind = model.behind(best, apart)
  const beside = besideRegion(known, isTarget)
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
      return model.expected(decibelsOf(cost * unit), best, {
        behind,
        unsettled,
        ofDonors,
        most: decibelsOf(beside),
      })
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

/** Mean square difference that goes on beside the region, which nothing is expected to be nearer to the truth than; 0: lessons tell. */
function besideRegion({ model, registration, features }: Known, isTarget: ReadonlySet<Registered>): number {
  // Lessons of the whole region have it in their truth what falls there; parts that are empty for a moment have not.
  if (model.taught && model.ofParts === null) return 0
  const { frames, cleanPlate, window } = registration
  const others = frames.filter((f) => !isTarget.has(f))
  return onCalmestSide(subsample(others, BESIDE_FRAMES), features.view.list, cleanPlate.level, window)
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
