// The region's clean plate as a function of time. What stands there now may not have stood there for most of the plate: a
// car parks, a lamp goes on. What holds at the target is what is seen just before and just after it with nobody in front;
// where the two differ, both are possible.

import type { Workspace } from '../../kernels/workspace.js'
import { type AlignedSample, type CleanPlate, cleanPlateSteps } from '../../match/clean-plate.js'
import { VALID } from '../../match/log-luminance.js'
import { select } from '../../match/selection.js'
import { subsample } from '../../match/subsample.js'
import { CLEAN_SHARE, VISIBLE_STOPS } from '../../match/thresholds.js'
import { displaySlope } from '../../match/visible-error.js'
import { dilate, support } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { EMPTY_FRAMES, type Registered, type Registration } from '../register.js'
import type { Around, PairFeatures } from './pair-features.js'
import type { RegionView } from './region-view.js'

/** Frames before and after one that tell whether its region stands still, and how many of them must show the same. */
const MOMENTS_APART = [-8, -4, 4, 8]
const ALIKE = 2
/** A moment later, frames: codecs and telecines repeat one. Pairs of frames that tell how a pixel changes by itself. */
const MOMENT_FRAMES = 2
const CHANGE_PAIRS = 65
/** The middle one of the differences of two normally distributed values, over the deviation of one. */
const MIDDLE_OF_DIFFERENCE = 0.954
/** From this share on not even the tip of a shoe stands in the region. */
const WHOLE_SHARE = 0.998
/** A pixel this many spreads from a picture, and visibly so, shows something else. */
const OTHER_SIGMA = 5
/** ... by more than this, of the display's code values: six of 255. */
const OTHER_CODE = 0.025
/** Where less of the region differs than this, the picture of the whole plate is as good as one of the moment alone. */
const SAME_SHARE = 0.005
/** Where more of it differs, it is another state; less is leaves, or a shadow's edge on its way. */
const APART_SHARE = 0.08
/** Round the mask, pixels: what lies in it is judged with its neighbours, and they are in the same state. */
const EDGE_PX = 2

/** Fewer frames that show a picture make no clean plate. */
const MIN_SHOWING = 3

/**
 * Per frame of a view, above 0 where nobody passes: its region shows what it shows over most of the plate, or stands still
 * for a while. 2 where it does to the last corner. Of a part a pixel may differ by its own change, too.
 *
 * @param usual   what counts as shown over most of the plate, on the pixels that the view compares
 * @param moments false: by that alone, since a moment is told by frames whose whole region is seen
 */
export function* unoccupiedFrames(
  view: RegionView,
  usual: Readonly<Float32Array> = view.usual,
  moments = true,
): Steps<Uint8Array, never> {
  const { frames } = view
  const change = view.part === null ? undefined : ownChange(view)
  const out = new Uint8Array(frames.length)
  const worth = Float64Array.from(usual, displaySlope)
  for (let i = 0; i < frames.length; i++) {
    yield
    out[i] = gradeOf(shareOf(view, i, usual, worth, change))
  }
  if (!moments) return out
  const worths = new Map<number, Float64Array>()
  const worthOf = (frame: number): Float64Array => {
    const known = worths.get(frame) ?? new Float64Array(usual.length)
    worths.set(frame, known)
    return known
  }
  const byPlate = new Map<number, number[]>()
  for (const [i, { plate }] of frames.entries())
    if (view.shows(i)) byPlate.set(plate, [...(byPlate.get(plate) ?? []), i])
  for (const seen of byPlate.values()) {
    for (const [at, i] of seen.entries()) {
      yield
      if (out[i] === 2) continue
      // A slow walker's middle looks as still as a wall for a while; his edges do not.
      const others = MOMENTS_APART.flatMap((apart) => seen[at + apart] ?? [])
      const alike = others.map((o) => shareOf(view, i, view.samplesOf(o).aligned, worthOf(o)))
      alike.sort((a, b) => b - a)
      out[i] = Math.max(out[i], gradeOf(alike[ALIKE - 1] ?? 0))
    }
  }
  return out
}

function gradeOf(share: number): number {
  return share >= WHOLE_SHARE ? 2 : share >= CLEAN_SHARE ? 1 : 0
}

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
    const worth = Float64Array.from(picture, displaySlope)
    for (let i = 0; i < view.frames.length; i++) {
      yield
      if (!hidden(i) && shareOf(view, i, picture, worth) >= CLEAN_SHARE) showing.push(view.frames[i])
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
  if (sameShare(view, seen, (one && two) ?? view.usual) < 1 - APART_SHARE) return sides
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
    let n = 0
    for (const { aligned, validity, exposure } of frames)
      if (validity[i] === VALID) values[n++] = aligned[i] + exposure
    return n > 0 ? select(values, n >> 1, n) : usual
  })
}

/** Does the region look another way before a moment than after it? False where only one side is seen. */
export function isApart(view: RegionView, around: Pick<Around, 'before' | 'after'>): boolean {
  const before = view.middleOf(around.before)
  const after = view.middleOf(around.after)
  return before !== null && after !== null && sameShare(view, before, after) < 1 - APART_SHARE
}

/**
 * Share of the region in which a frame shows a picture, 0 to 1.
 *
 * @param worth  its display slopes, 0 where they were not asked for yet, where many frames are held against it: powers cost as
 *   much as all the rest
 * @param change as `ownChange` has it
 */
function shareOf(
  view: RegionView,
  frame: number,
  level: Readonly<Float32Array>,
  worth?: Float64Array,
  change?: Readonly<Float32Array>,
): number {
  return within(view, view.samplesOf(frame), level, worth, change)
}

/**
 * Per pixel that a view compares, how far it may lie from a picture by itself where it is never still, stops: a fan, a screen,
 * water. 0 where it shows the same a moment later more often than not: whoever stands or passes in front for less than half of
 * the time leaves it so.
 */
export function ownChange(view: RegionView): Float32Array {
  const { frames } = view
  const apart = frames.flatMap((a, i) => {
    const b = frames[i + MOMENT_FRAMES]
    const next = b !== undefined && b.plate === a.plate && b.frame === a.frame + MOMENT_FRAMES
    return next && a.held && b.held ? [[view.samplesOf(i), view.samplesOf(i + MOMENT_FRAMES)] as const] : []
  })
  const pairs = subsample(apart, CHANGE_PAIRS)
  const off = new Float32Array(pairs.length)
  return view.usual.map((usual, k) => {
    let n = 0
    for (const [one, two] of pairs) {
      if (one.validity[k] !== VALID || two.validity[k] !== VALID) continue
      off[n++] = Math.abs(one.aligned[k] - two.aligned[k])
    }
    const middle = n > 0 ? select(off, n >> 1, n) : 0
    const shows = middle > otherStops(view.grain[k]) && middle * displaySlope(usual) > OTHER_CODE
    return shows ? (OTHER_SIGMA * middle) / MIDDLE_OF_DIFFERENCE : 0
  })
}

/** From here on, stops, it is another thing, if it shows: in the shadows a stop is next to nothing, and codecs leave little of it. */
function otherStops(grain: number): number {
  return OTHER_SIGMA * grain + VISIBLE_STOPS
}

function sameShare(view: RegionView, picture: Readonly<Float32Array>, level: Readonly<Float32Array>): number {
  const validity = new Uint8Array(picture.length).fill(1)
  return within(view, { aligned: picture, validity, exposure: 0 }, level)
}

/** @param worth where the slopes are kept that were asked for, 0 of the others */
function slopeAt(level: Readonly<Float32Array>, k: number, worth?: Float64Array): number {
  if (worth === undefined) return displaySlope(level[k])
  if (worth[k] === 0) worth[k] = displaySlope(level[k])
  return worth[k]
}

function within(
  { list, grain }: RegionView,
  { aligned, validity, exposure }: AlignedSample,
  level: Readonly<Float32Array>,
  worth?: Float64Array,
  change?: Readonly<Float32Array>,
): number {
  let same = 0
  let all = 0
  for (let k = 0; k < level.length; k++) {
    const weight = list.ownWeight[k]
    all += weight
    const off = Math.abs(aligned[k] + exposure - level[k])
    const far = off > Math.max(change?.[k] ?? 0, otherStops(grain[k]))
    const shows = far && off * slopeAt(level, k, worth) > OTHER_CODE
    if (validity[k] === VALID && !shows) same += weight
  }
  return all > 0 ? same / all : 0
}

/** What some frames agree on where `covered` is 1, and all of them elsewhere; both over the window. */
export function* mergedPlate(
  workspace: Workspace,
  { cleanPlate, window, minSpread }: Registration,
  some: readonly Registered[],
  covered: Readonly<Uint8Array>,
): Steps<CleanPlate, never> {
  const frames = subsample(some, EMPTY_FRAMES)
  const theirs = yield* cleanPlateSteps(workspace, frames, window.w * window.h, minSpread)
  const pick = (own: Readonly<Float32Array>, other: Readonly<Float32Array>) =>
    own.map((v, i) => (covered[i] > 0 ? other[i] : v))
  return {
    level: pick(cleanPlate.level, theirs.level),
    spread: pick(cleanPlate.spread, theirs.spread),
    support: pick(cleanPlate.support, theirs.support),
  }
}
