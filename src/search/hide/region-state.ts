// Which picture of the region is the empty one? As a rule the one that most frames agree on. But where the target itself
// shows that picture, on all of its frames, it is the very thing that is to be hidden, and agreement says nothing: a crate
// that stands there for most of the plate agrees with itself. This is the one place where the target's own region is
// looked at, and it is asked only whether anything would change there, never which donor is like it.

import type { Held, Workspace } from '../../kernels/workspace.js'
import {
  cleanShare,
  explainedSpread,
  markDirty,
  visibleSpread,
  type Weighed,
  weighed,
} from '../../match/clean.js'
import type { CleanPlate } from '../../match/clean-plate.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { hasByte } from '../../raster/has-byte.js'
import { type Rect, relativeTo } from '../../raster/rect.js'
import { everyInside, type Region, type RegionFrame, support } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import type { RegionDoubt } from '../measure.js'
import type { Registered, Registration } from '../register.js'
import { mergedPlate } from './region-states.js'

/** Another picture of the region counts when so many frames agree on it, and so large a share of all. */
export const MIN_FRAMES = 3
const MIN_SHARE = 0.1
/** Less of the region than this changed on every target frame, and what was meant may well be in the donors, too. */
const MIN_CHANGED = 0.05
/**
 * ... as it may where less than the larger share changed and what is seen just before the target is not quite what is seen just after it:
 * nobody stands as still as a wall.
 */
const MAX_DRIFTED = 0.15
const MIN_DRIFT = 0.02
/** Who stands there covers at least so much of the region, and so many times what changed. */
const MIN_COVERED = 0.15
const MIN_TIMES = 3

export interface RegionState extends RegionDoubt {
  readonly cleanPlate: CleanPlate
}

/** What is seen next to the target. */
export interface NextToTarget {
  /** The region as it looks before it and after it, one picture where both look the same. */
  readonly pictures: readonly CleanPlate[]
  /** Share of the region that has changed from before to after. */
  readonly drift: number
}

/**
 * @param registration with what counts as the region's empty picture
 * @param targets the target's frames, at least one
 */
export function* regionState(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
  next: NextToTarget = { pictures: [registration.cleanPlate], drift: 0 },
): Steps<RegionState> {
  const held = workspace.hold()
  try {
    return yield* stateIn(workspace, held, registration, region, targets, next)
  } finally {
    held.release()
  }
}

function* stateIn(
  workspace: Workspace,
  held: Held,
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
  { pictures, drift }: NextToTarget,
): Steps<RegionState> {
  const { cleanPlate, frames } = registration
  const asUsual = { cleanPlate, unknown: null, doubt: null }
  const isTarget = new Set(targets)
  const others = frames.filter((f) => !isTarget.has(f) && f.held)
  if (others.length === 0) return asUsual
  const shown: Comparison[] = []
  for (const picture of pictures) {
    const one = new Comparison(workspace, held, registration, region, picture)
    yield* one.settle(others)
    shown.push(one)
  }
  const changed = mostChanged(shown, targets)
  if (changed === null || changed >= (drift >= MIN_DRIFT ? MAX_DRIFTED : MIN_CHANGED)) return asUsual
  let differing: readonly Registered[] = others
  for (const one of shown) differing = yield* one.differing(differing)
  if (differing.length >= MIN_FRAMES) {
    const other = yield* mergedPlate(workspace, registration, differing, support(everyInside(region)))
    const rare = new Comparison(workspace, held, registration, region, other)
    yield* rare.settle(differing)
    const agreeing = differing.length - (yield* rare.differing(differing)).length
    const tells = mostChanged([rare], targets) ?? 0
    // Where the target does not quite show what is seen next to it, what is to be hidden may be small, and what others show may be no
    // more than another state: then they must be more.
    const isTold =
      changed < 1 - CLEAN_SHARE
        ? tells >= MIN_CHANGED
        : tells >= Math.max(MIN_COVERED, MIN_TIMES * changed) && agreeing > others.length - differing.length
    if (isTold && isAgreedOn(agreeing, frames.length)) {
      const seen =
        agreeing > others.length / 2 ? 'just before and after it' : 'what most frames show in the region'
      const doubt = `the target shows ${seen}, so what ${agreeing} other frames show is taken for empty: look at it`
      return { cleanPlate: other, unknown: null, doubt }
    }
  }
  if (changed >= MIN_CHANGED) return asUsual
  if (changed >= 1 - CLEAN_SHARE) {
    const share = `${(100 * changed).toFixed(1)} %`
    const doubt = `only ${share} of the region differs from what the target shows: what is to be hidden may be in the donor, too`
    return { cleanPlate, unknown: null, doubt }
  }
  const unknown =
    'the region shows what the target shows: what is to be hidden is in the donors, too, or nothing is there'
  return { cleanPlate, unknown, doubt: null }
}

/** Share of the region that differs from each of some pictures, on the target frame on which most does; null: no region. */
function mostChanged(from: readonly Comparison[], targets: readonly Registered[]): number | null {
  let most: number | null = null
  for (const target of targets) {
    const least = Math.min(...from.map((one) => one.changedOn(target) ?? Number.POSITIVE_INFINITY))
    if (Number.isFinite(least)) most = Math.max(most ?? 0, least)
  }
  return most
}

/** Do enough of all frames agree on a picture of the region for it to count? */
export function isAgreedOn(agreeing: number, all: number): boolean {
  return agreeing >= Math.max(MIN_FRAMES, MIN_SHARE * all)
}

/** Frames held against one picture of the region. */
class Comparison {
  readonly #level: Readonly<Float32Array>
  readonly #spread: Readonly<Float32Array>
  readonly #part: Rect
  /** The region under the first target frame's mask. */
  readonly #first: Weighed
  /** What differs of one frame after the other, over the window; 0 outside the part. */
  readonly #dirty: Uint8Array
  /** What differs even in the frame that agrees best: there the picture is of nothing that was ever seen. */
  #never: Uint8Array
  #isNever = false
  /** A still mask serves all target frames. */
  #seen: { mask: RegionFrame; inside: Weighed } | undefined

  /** @param held where the picture lies for as long as frames are held against it */
  constructor(
    readonly workspace: Workspace,
    held: Held,
    readonly registration: Registration,
    readonly region: Region,
    { level }: CleanPlate,
  ) {
    const { cleanPlate, window, minSpread } = registration
    const { box } = region
    const { surround, inside } = region.frames.values().next().value!
    this.#level = held.laid(level)
    this.#spread = held.laid(visibleSpread(level, explainedSpread(cleanPlate, surround, minSpread)))
    this.#part = relativeTo(box, window)
    this.#first = weighed(inside)
    this.#dirty = held.bytes(window.w * window.h).fill(0)
    this.#never = new Uint8Array(window.w * window.h)
  }

  /** @param frames that show the picture, as far as any do */
  *settle(frames: readonly Registered[]): Steps<void> {
    let best = -1
    for (const f of frames) {
      yield
      const dirty = this.#dirt(f, f.validity)
      const share = cleanShare(dirty, this.#first) ?? 0
      if (share <= best) continue
      best = share
      this.#never = dirty.slice()
      // None agrees better than all over.
      if (share === 1) break
    }
    this.#isNever = hasByte(this.#never, 1)
  }

  /** The frames whose region differs from the picture where others agree with it. */
  *differing(frames: readonly Registered[]): Steps<Registered[]> {
    const found: Registered[] = []
    for (const f of frames) {
      yield
      if (this.#changed(f, f.validity, this.#first) > 1 - CLEAN_SHARE) found.push(f)
    }
    return found
  }

  /** Share of the region that differs on a target frame; null: no region. */
  changedOn(target: Registered): number | null {
    const mask = this.region.frames.get(target.frame)!
    if (this.#seen?.mask !== mask) this.#seen = { mask, inside: weighed(mask.inside) }
    const { inside } = this.#seen
    return inside.list.length === 0 ? null : this.#changed(target, target.shown ?? target.validity, inside)
  }

  #changed(f: Registered, validity: Readonly<Uint8Array>, inside: Weighed): number {
    const dirty = this.#dirt(f, validity)
    if (this.#isNever) leaveOut(dirty, this.#never)
    return 1 - (cleanShare(dirty, inside) ?? 1)
  }

  /** @returns what lasts until the next frame is looked at */
  #dirt({ aligned, exposure }: Registered, validity: Readonly<Uint8Array>): Uint8Array {
    const { w } = this.registration.window
    const dirty = this.#dirty
    markDirty(
      this.workspace,
      { aligned, validity, exposure, level: this.#level, spread: this.#spread },
      w,
      dirty,
      this.#part,
    )
    return dirty
  }
}

/** Takes from what is marked what is marked in the other, too. */
function leaveOut(marks: Uint8Array, others: Readonly<Uint8Array>): void {
  for (let i = 0; i < marks.length; i++) if (others[i] === 1) marks[i] = 0
}
