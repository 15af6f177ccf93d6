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
import type { Region } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { EMPTY_FRAMES, type Registered, type Registration } from '../register.js'
import type { Around, PairFeatures } from './pair-features.js'
import type { RegionView } from './region-view.js'

/** Frames between two moments at which the region's picture is taken, and the frames round each that it is taken from. */
const MOMENT_FRAMES = 6
const ROUND_MOMENT = 18
/** A pixel this many spreads from a picture, and visibly so, shows something else. */
const OTHER_SIGMA = 5
/** ... by more than this, of the display's code values: six of 255. */
const VISIBLE_CODE = 0.025
/** Where less of the region differs than this, the picture of the whole plate is as good as one of the moment alone. */
const SAME_SHARE = 0.005
/** Where more of it differs, it is another state; less is leaves, or a shadow's edge on its way. */
const APART_SHARE = 0.08

/** One state that may hold at the target. */
export interface State {
  readonly cleanPlate: CleanPlate
  /** As it is told: before the target's first frame, after its last, or no other one. */
  readonly when: 'before' | 'after' | null
}

/**
 * Per frame of a view, 1 where its region shows what it shows most of the time round that moment, or over the whole plate:
 * nobody stands there for a while.
 *
 * @param level  of the clean plate over the whole plate, over the window; `spread` what grain explains of it
 * @param moments false: by the whole plate alone
 */
export function* unoccupiedFrames(
  view: RegionView,
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
  moments = true,
): Steps<Uint8Array, never> {
  const { frames, list } = view
  const part = (values: Readonly<Float32Array>) => Float32Array.from(list.own, (i) => values[i])
  const grain = part(spread)
  const usual = part(level)
  const out = new Uint8Array(frames.length)
  for (let i = 0; i < frames.length; i++) {
    yield
    out[i] = shareOf(view, i, usual, grain) >= CLEAN_SHARE ? 1 : 0
  }
  if (!moments) return out
  const byPlate = new Map<number, number[]>()
  for (const [i, { plate }] of frames.entries()) byPlate.set(plate, [...(byPlate.get(plate) ?? []), i])
  for (const ofPlate of byPlate.values()) {
    const seen = ofPlate.filter((i) => view.shows(i))
    for (let at = 0; at < seen.length; at += MOMENT_FRAMES) {
      yield
      const here = seen.slice(at, at + MOMENT_FRAMES)
      if (here.every((i) => out[i] === 1)) continue
      const from = Math.max(
        0,
        Math.min(at + (MOMENT_FRAMES >> 1) - (ROUND_MOMENT >> 1), seen.length - ROUND_MOMENT),
      )
      const round = seen.slice(from, from + ROUND_MOMENT).map((i) => view.samplesOf(i))
      const picture = yield* cleanPlateSteps(view.workspace, round, list.own.length)
      for (const i of here) if (shareOf(view, i, picture.level, grain) >= CLEAN_SHARE) out[i] = 1
    }
  }
  return out
}

/**
 * The states that may hold at the target: one, or two where the region looks another way before it than after it.
 *
 * @param target its place in the view's frames; `hidden` the target frames
 */
export function* statesAt(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  features: PairFeatures,
  spread: Readonly<Float32Array>,
  target: number,
  hidden: (frame: number) => boolean,
): Steps<State[], never> {
  const { view } = features
  const { cleanPlate } = registration
  const { list } = view
  const grain = Float32Array.from(list.own, (i) => spread[i])
  const usual = Float32Array.from(list.own, (i) => cleanPlate.level[i])
  const around = features.around(target, hidden)
  const { before, after } = around
  const sides = [
    { when: 'before' as const, picture: middlePicture(view, before) },
    { when: 'after' as const, picture: middlePicture(view, after) },
  ].flatMap(({ when, picture }) => (picture === null ? [] : [{ when, picture }]))
  const apart = isApart(view, around, spread)
  const states: State[] = []
  for (const { when, picture } of apart ? sides : sides.slice(0, 1)) {
    const told = apart ? when : null
    if (sameShare(view, picture, usual, grain) >= 1 - SAME_SHARE) {
      states.push({ cleanPlate, when: told })
      continue
    }
    const showing: Registered[] = []
    for (let i = 0; i < view.frames.length; i++) {
      yield
      if (!hidden(i) && shareOf(view, i, picture, grain) >= CLEAN_SHARE) showing.push(view.frames[i])
    }
    const own = yield* inRegion(workspace, registration, subsample(showing, EMPTY_FRAMES), region)
    states.push({ cleanPlate: own, when: told })
  }
  return states.length > 0 ? states : [{ cleanPlate, when: null }]
}

/** Does the region look another way before a moment than after it? False where only one side is seen. */
export function isApart(
  view: RegionView,
  { before, after }: Around,
  spread: Readonly<Float32Array>,
): boolean {
  const [one, two] = [middlePicture(view, before), middlePicture(view, after)]
  if (one === null || two === null) return false
  const grain = Float32Array.from(view.list.own, (i) => spread[i])
  return sameShare(view, one, two, grain) < 1 - APART_SHARE
}

/** The middle value of a few frames, pixel by pixel; null where there is none. */
function middlePicture(view: RegionView, frames: readonly number[]): Float32Array | null {
  if (frames.length === 0) return null
  const samples = frames.map((i) => view.samplesOf(i).aligned)
  const values = new Float32Array(frames.length)
  return samples[0].map((_, k) => {
    for (let i = 0; i < values.length; i++) values[i] = samples[i][k]
    return select(values, values.length >> 1)
  })
}

/** Share of the region in which a frame shows a picture, 0 to 1. */
function shareOf(
  view: RegionView,
  frame: number,
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
): number {
  return within(view, view.samplesOf(frame), level, spread)
}

function sameShare(
  view: RegionView,
  picture: Readonly<Float32Array>,
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
): number {
  const validity = new Uint8Array(picture.length).fill(1)
  return within(view, { aligned: picture, validity, exposure: 0 }, level, spread)
}

function within(
  { list }: RegionView,
  { aligned, validity, exposure }: AlignedSample,
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
): number {
  let same = 0
  let all = 0
  for (let k = 0; k < level.length; k++) {
    const weight = list.ownWeight[k]
    all += weight
    const off = Math.abs(aligned[k] + exposure - level[k])
    // In the shadows a stop is next to nothing, and codecs leave little of it.
    const shows = off > OTHER_SIGMA * spread[k] + VISIBLE_STOPS && off * displaySlope(level[k]) > VISIBLE_CODE
    if (validity[k] === VALID && !shows) same += weight
  }
  return all > 0 ? same / all : 0
}

/** What some frames agree on inside the region, and all of them round it. */
export function* inRegion(
  workspace: Workspace,
  { cleanPlate, window, minSpread }: Registration,
  some: readonly Registered[],
  { frames }: Region,
): Steps<CleanPlate, never> {
  const theirs = yield* cleanPlateSteps(workspace, some, window.w * window.h, minSpread)
  const covered = new Uint8Array(window.w * window.h)
  for (const { inside } of new Set(frames.values()))
    for (let i = 0; i < covered.length; i++) if (inside[i] > 0) covered[i] = 1
  const pick = (own: Readonly<Float32Array>, other: Readonly<Float32Array>) =>
    own.map((v, i) => (covered[i] === 1 ? other[i] : v))
  return {
    level: pick(cleanPlate.level, theirs.level),
    spread: pick(cleanPlate.spread, theirs.spread),
    support: pick(cleanPlate.support, theirs.support),
  }
}
