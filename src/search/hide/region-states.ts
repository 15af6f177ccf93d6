// The region's clean plate as a function of time. What stands there now may not have stood there for most of the plate: a
// car parks, a lamp goes on. What holds at the target is what is seen just before and just after it with nobody in front;
// where the two differ, both are possible.

import type { Workspace } from '../../kernels/workspace.js'
import { type CleanPlate, cleanPlateSteps } from '../../match/clean-plate.js'
import { VALID } from '../../match/log-luminance.js'
import { select } from '../../match/selection.js'
import { subsample } from '../../match/subsample.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { dilate, support } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { EMPTY_FRAMES, type Registered, type Registration } from '../register.js'
import type { Around, PairFeatures } from './pair-features.js'
import type { RegionView } from './region-view.js'
import { HeldPicture, isOtherState, sameShare, shareOf } from './shown-share.js'

/** Where less of the region differs than this, the picture of the whole plate is as good as one of the moment alone. */
const SAME_SHARE = 0.005
/** Round the mask, pixels: what lies in it is judged with its neighbours, and they are in the same state. */
export const EDGE_PX = 2

/** Fewer frames that show a picture make no clean plate. */
const MIN_SHOWING = 3

/** What the region may show at the target. */
export interface StateShown {
  readonly cleanPlate: CleanPlate
  /** The same as the frames next to the target have it, over the window; null where it is not known. */
  readonly local: Readonly<Float32Array> | null
}

/**
 * The states that may hold at the target: one, or where the region looks another way before it than after it two, in that
 * order.
 *
 * @param target its place in the view's frames; `hidden` the target frames
 */
export function* statesAt(
  workspace: Workspace,
  registration: Registration,
  features: PairFeatures,
  target: number,
  hidden: (frame: number) => boolean,
): Steps<StateShown[], never> {
  const { view } = features
  const { cleanPlate } = registration
  const { before, after } = features.around(target, hidden)
  const states: StateShown[] = []
  const { w, h } = registration.window
  const covered = dilate(support(view.mask.inside), w, h, EDGE_PX)
  for (const { near, picture } of sidesOf(view, { before, after })) {
    if (picture === null) {
      states.push({ cleanPlate, local: null })
      continue
    }
    const local = localPicture(
      near.map((i) => view.frames[i]),
      cleanPlate.level,
      covered,
    )
    if (sameShare(view, picture, view.usual) >= 1 - SAME_SHARE) {
      states.push({ cleanPlate, local })
      continue
    }
    const showing: Registered[] = []
    const held = new HeldPicture(picture)
    for (let i = 0; i < view.frames.length; i++) {
      yield
      if (!hidden(i) && shareOf(view, i, held) >= CLEAN_SHARE) showing.push(view.frames[i])
    }
    // Through this mask alone: what shows the picture here may have somebody standing under another frame's mask.
    states.push(
      showing.length < MIN_SHOWING
        ? { cleanPlate, local: null }
        : { cleanPlate: yield* mergedPlate(workspace, registration, showing, covered), local },
    )
  }
  return states
}

/** Frames that tell of one state, and what they show; null: nobody tells, and it is what most of the plate shows. */
interface Side {
  readonly near: readonly number[]
  readonly picture: Readonly<Float32Array> | null
}

/**
 * Before a target and after it, where they look different, or else both together. Where one side is never seen and the other
 * shows something else than most of the plate does, the plate's picture may hold on that side as well.
 */
function sidesOf(view: RegionView, around: Pick<Around, 'before' | 'after'>): Side[] {
  const sides = [around.before, around.after].map((near) => ({ near, picture: view.middleOf(near) }))
  const [one, two] = sides.map(({ picture }) => picture)
  const seen = one ?? two
  if (seen === null) return [{ near: [], picture: null }]
  if (isOtherState(view, seen, (one && two) ?? view.usual)) return sides
  return [{ near: sides.flatMap(({ near }) => near), picture: seen }]
}

/** The middle value of a few frames where `covered` is 1 and any of them is seen, `level` elsewhere. */
function localPicture(
  frames: readonly Registered[],
  level: Readonly<Float32Array>,
  covered: Readonly<Uint8Array>,
): Float32Array {
  const values = new Float32Array(frames.length)
  return level.map((usual, i) => {
    if (covered[i] === 0) return usual
    return middleAt(frames, i, values) ?? usual
  })
}

/** The middle value of a few frames at a pixel of the window; null where none shows it. @param values room for one of each */
export function middleAt(frames: readonly Registered[], i: number, values: Float32Array): number | null {
  let n = 0
  for (const { aligned, validity, exposure } of frames)
    if (validity[i] === VALID) values[n++] = aligned[i] + exposure
  return n > 0 ? select(values, n >> 1, n) : null
}

/** Does the region look another way before a moment than after it? False where only one side is seen. */
export function isApart(view: RegionView, around: Pick<Around, 'before' | 'after'>): boolean {
  const before = view.middleOf(around.before)
  const after = view.middleOf(around.after)
  return before !== null && after !== null && isOtherState(view, before, after)
}

/** What some frames agree on where `covered` is 1, and all of them elsewhere; both over the window. */
export function* mergedPlate(
  workspace: Workspace,
  { cleanPlate, window, minSpread, carried }: Registration,
  some: readonly Registered[],
  covered: Readonly<Uint8Array>,
): Steps<CleanPlate, never> {
  const frames = subsample(some, EMPTY_FRAMES)
  const theirs = yield* cleanPlateSteps(workspace, frames, window.w * window.h, minSpread, carried)
  const pick = (own: Readonly<Float32Array>, other: Readonly<Float32Array>) =>
    own.map((v, i) => (covered[i] > 0 ? other[i] : v))
  return {
    level: pick(cleanPlate.level, theirs.level),
    spread: pick(cleanPlate.spread, theirs.spread),
    scatter: pick(cleanPlate.scatter, theirs.scatter),
    support: pick(cleanPlate.support, theirs.support),
  }
}
