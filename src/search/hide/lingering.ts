// Somebody who stays. Whoever stands in the region round the target and for much of the plate looks like a part of it: what
// is seen next to the target, or most of the time, has him in it. But nobody stands as still as the wall behind him. Where
// the plate shows the region another way as well, and what differs moves with him and is still without, he is no part of it.

import type { Workspace } from '../../kernels/workspace.js'
import { VALID } from '../../match/log-luminance.js'
import { indicesOf, subsample } from '../../match/subsample.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { dilate, everyInside, type Region, support } from '../../region/region.js'
import { keyOf } from '../../shot/frame-key.js'
import type { Steps } from '../../turns.js'
import { gather } from '../pixel-lists.js'
import type { Registered } from '../register.js'
import type { Known } from './known.js'
import { isAgreedOn, MIN_FRAMES, type RegionState } from './region-state.js'
import { EDGE_PX, mergedPlate, middleAt } from './region-states.js'
import type { RegionView } from './region-view.js'
import { HeldPicture, shareOf } from './shown-share.js'

/** Frames that are tried as the one that most of those that stand still agree with. */
const TRIED = 12
/** What differs is at least this share of the region: less is leaves. */
const MIN_DIFFERENT = 0.015
/** A frame shows a picture when more than this share of what differs lies nearer to it than halfway to the other. */
const SHOWN_SHARE = 0.7
/** A moment, frames, after which who stands there has moved, and pairs of frames that tell. */
const MOMENT_FRAMES = 4
const MIN_PAIRS = 12
const PAIRS = 48
/** A pixel moves that shows something else a moment later on more than this share of the pairs: who passes does it on few. */
const MOVING_PAIRS = 0.4
/** Of what differs more than this share moves with whoever stands there, and less than that without. */
const MIN_LIVELY = 0.06
const MAX_LIVELY = 0.02
/** Next to the mask, pixels, at most this share of what differs within may differ: who reaches out of it is not to be cut in two. */
const BESIDE_PX = 8
const MAX_BESIDE = 0.05
/** Who leaves crosses what lies next to the mask: at least so much of what somebody as wide as high would cover there. */
const MIN_LEAVING = 0.5
/** Frames whose middle value is what is seen there. */
const BESIDE_FRAMES = 9

/**
 * What the region shows when somebody who stays in it round the target is gone; null where nothing tells that anybody does.
 *
 * @param targets the target's frames
 */
export function* withoutWhoStays(
  workspace: Workspace,
  known: Pick<Known, 'registration' | 'steady' | 'features' | 'states'>,
  region: Region,
  targets: readonly Registered[],
): Steps<RegionState | null, never> {
  const { registration, steady, features, states } = known
  const { view, unoccupied } = features
  const isTarget = new Set(targets)
  const others = view.frames.flatMap((f, i) => (f.held && !isTarget.has(f) && view.shows(i) ? [i] : []))
  for (const { cleanPlate } of states) {
    const shown = gather(cleanPlate.level, view.list.own)
    const still = yield* stillOtherwise(view, others, unoccupied, shown)
    const empty = view.middleOf(subsample(still, PAIRS))
    const lingerer = empty && (yield* whoMoves(view, others, empty, shown))
    if (empty === null || lingerer === null) continue
    const picture = new HeldPicture(empty)
    const without = others.filter((i) => shareOf(view, i, picture) >= CLEAN_SHARE)
    if (!isAgreedOn(without.length, view.frames.length)) continue
    const beside = besideMask(view)
    if (!isInside(view, beside, lingerer, without)) continue
    if (!isSeenToLeave(view, beside, steady, lingerer, without)) continue
    const { w, h } = registration.window
    const covered = dilate(support(everyInside(region)), w, h, EDGE_PX)
    const some = without.map((i) => view.frames[i])
    const doubt = `somebody stays in the region for long, so what ${some.length} frames show without is taken for empty: look at it`
    return { cleanPlate: yield* mergedPlate(workspace, registration, some, covered), unknown: null, doubt }
  }
  return null
}

/** The most frames that show the same, nobody passing, and not what is taken for empty. */
function* stillOtherwise(
  view: RegionView,
  others: readonly number[],
  unoccupied: Readonly<Uint8Array>,
  shown: Readonly<Float32Array>,
): Steps<number[], never> {
  const picture = new HeldPicture(shown)
  const apart = others.filter((i) => unoccupied[i] > 0 && shareOf(view, i, picture) < CLEAN_SHARE)
  let most: number[] = []
  if (apart.length < MIN_FRAMES) return most
  for (const tried of subsample(apart, TRIED)) {
    yield
    const its = new HeldPicture(view.samplesOf(tried).aligned)
    const alike = apart.filter((i) => shareOf(view, i, its) >= CLEAN_SHARE)
    if (alike.length > most.length) most = alike
  }
  return most
}

/** Somebody who is there in one picture and not in another. */
interface Lingerer {
  /** Those that show him where he stands. */
  readonly frames: readonly number[]
  /** How many of the region he covers. */
  readonly pixels: number
}

/** Is one picture the other without somebody who stands there, and moves? */
function* whoMoves(
  view: RegionView,
  others: readonly number[],
  empty: Readonly<Float32Array>,
  shown: Readonly<Float32Array>,
): Steps<Lingerer | null, never> {
  const picture = new HeldPicture(empty)
  const differs = (off: number, k: number) => picture.differs(off, k, view.grain[k])
  const places = [...empty.keys()].filter((k) => differs(empty[k] - shown[k], k))
  if (places.length < MIN_DIFFERENT * empty.length) return null
  const shows = (i: number, picture: Readonly<Float32Array>) => {
    const { aligned } = view.samplesOf(i)
    let near = 0
    for (const k of places) if (Math.abs(aligned[k] - picture[k]) < Math.abs(empty[k] - shown[k]) / 2) near++
    return near > SHOWN_SHARE * places.length
  }
  const frames = others.filter((i) => shows(i, shown))
  yield
  const moves = movingShare(view, frames, places, differs)
  const without = others.filter((i) => shows(i, empty))
  yield
  const movesWithout = movingShare(view, without, places, differs)
  if (moves === null || movesWithout === null) return null
  if (moves <= MIN_LIVELY || movesWithout >= MAX_LIVELY) return null
  return { frames, pixels: (places.length * view.list.inside.length) / empty.length }
}

/** Of some pixels, the share that moves from one moment to the next; null where too few frames tell. */
function movingShare(
  view: RegionView,
  some: readonly number[],
  places: readonly number[],
  differs: (off: number, k: number) => boolean,
): number | null {
  const { frames } = view
  const at = new Map(some.map((i) => [keyOf(frames[i]), i]))
  const all = some.flatMap((i) => {
    const { plate, frame } = frames[i]
    const later = at.get(keyOf({ plate, frame: frame + MOMENT_FRAMES }))
    return later === undefined ? [] : [[view.samplesOf(i), view.samplesOf(later)] as const]
  })
  if (all.length < MIN_PAIRS) return null
  const pairs = subsample(all, PAIRS)
  let moving = 0
  for (const k of places) {
    let n = 0
    let seen = 0
    for (const [one, two] of pairs) {
      if (one.validity[k] !== VALID || two.validity[k] !== VALID) continue
      seen++
      if (differs(one.aligned[k] - two.aligned[k], k)) n++
    }
    if (n > MOVING_PAIRS * seen) moving++
  }
  return moving / places.length
}

/** Does he stand within the mask altogether? Next to it frames with him show what frames without him do. */
function isInside(
  view: RegionView,
  beside: Readonly<Int32Array>,
  { frames, pixels }: Lingerer,
  without: readonly number[],
): boolean {
  const values = new Float32Array(BESIDE_FRAMES)
  const [within, empty] = [frames, without].map((of) => {
    const some = subsample(of, BESIDE_FRAMES).map((i) => view.frames[i])
    return Float32Array.from(beside, (i) => middleAt(some, i, values) ?? Number.NaN)
  })
  const picture = new HeldPicture(empty)
  const different = beside.filter((i, k) => picture.differs(within[k] - empty[k], k, view.spread[i]))
  return different.length <= MAX_BESIDE * pixels
}

/**
 * Is somebody seen next to the mask when he leaves or comes? From the last frame that shows him to the first without, or the other
 * way round; a fan that stops crosses no border.
 */
function isSeenToLeave(
  view: RegionView,
  beside: Readonly<Int32Array>,
  steady: ReadonlyMap<Registered, Readonly<Uint8Array>>,
  { frames: within, pixels }: Lingerer,
  without: readonly number[],
): boolean {
  const { frames } = view
  const least = MIN_LEAVING * BESIDE_PX * Math.sqrt(pixels)
  const isThere = new Map<number, boolean>()
  for (const i of within) isThere.set(i, true)
  for (const i of without) isThere.set(i, false)
  let last: number | null = null
  for (let i = 0; i < frames.length; i++) {
    const there = isThere.get(i)
    if (there === undefined) continue
    if (last !== null && frames[last].plate === frames[i].plate && isThere.get(last) !== there)
      for (const between of frames.slice(last, i + 1)) {
        const stands = steady.get(between)!
        const passing = beside.filter((k) => stands[k] === 0 && between.validity[k] === VALID)
        if (passing.length >= least) return true
      }
    last = i
  }
  return false
}

/** Places in the window next to the mask. */
function besideMask({ mask, registration }: RegionView): Int32Array {
  const { w, h } = registration.window
  const inside = support(mask.inside)
  return indicesOf(Float32Array.from(dilate(inside, w, h, BESIDE_PX), (v, i) => v - inside[i]))
}
