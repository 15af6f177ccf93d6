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

export interface RegionState extends RegionDoubt {
  readonly cleanPlate: CleanPlate
}

/** @param targets the target's frames, at least one */
export function* regionState(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
): Steps<RegionState> {
  const held = workspace.hold()
  try {
    return yield* stateIn(workspace, held, registration, region, targets)
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
): Steps<RegionState> {
  const { cleanPlate, frames } = registration
  const isTarget = new Set(targets)
  const others = frames.filter((f) => !isTarget.has(f) && f.held)
  if (others.length === 0) return { cleanPlate, unknown: null, doubt: null }
  const usual = new Comparison(workspace, held, registration, region, cleanPlate)
  yield* usual.settle(others)
  const changed = usual.mostChanged(targets)
  if (changed === null || changed >= MIN_CHANGED) return { cleanPlate, unknown: null, doubt: null }
  if (changed >= 1 - CLEAN_SHARE) {
    const share = `${(100 * changed).toFixed(1)} %`
    const doubt = `only ${share} of the region differs from what the target shows: what is to be hidden may be in the donor, too`
    return { cleanPlate, unknown: null, doubt }
  }
  const differing = yield* usual.differing(others)
  if (differing.length >= MIN_FRAMES) {
    const other = yield* mergedPlate(workspace, registration, differing, support(everyInside(region)))
    const rare = new Comparison(workspace, held, registration, region, other)
    yield* rare.settle(differing)
    const agreeing = differing.length - (yield* rare.differing(differing)).length
    const tells = (rare.mostChanged(targets) ?? 0) >= MIN_CHANGED
    if (tells && isAgreedOn(agreeing, frames.length)) {
      const doubt = `the target shows what most frames show in the region, so what ${agreeing} other frames show is taken for empty: look at it`
      return { cleanPlate: other, unknown: null, doubt }
    }
  }
  const unknown =
    'the region shows what the target shows: what is to be hidden is in the donors, too, or nothing is there'
  return { cleanPlate, unknown, doubt: null }
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

  /** Share of the region that differs on the target frame on which most does; null: no region. */
  mostChanged(targets: readonly Registered[]): number | null {
    let most: number | null = null
    // A still mask serves all of them.
    let seen: { mask: RegionFrame; inside: Weighed } | undefined
    for (const target of targets) {
      const mask = this.region.frames.get(target.frame)!
      if (seen?.mask !== mask) seen = { mask, inside: weighed(mask.inside) }
      if (seen.inside.list.length === 0) continue
      most = Math.max(most ?? 0, this.#changed(target, target.shown ?? target.validity, seen.inside))
    }
    return most
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
