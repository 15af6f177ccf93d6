// What is known of the region before any donor is compared: who stands there when, which states it may be in, and what a
// donor's error hangs on. All of it comes from all frames that were read, whoever of them may lend.

import type { Workspace } from '../../kernels/workspace.js'
import { explainedSpread } from '../../match/clean.js'
import type { CleanPlate } from '../../match/clean-plate.js'
import type { Region, RegionFrame } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { gather, steadyPixels } from '../pixel-lists.js'
import type { Registered, Registration } from '../register.js'
import { ErrorModel } from './error-model.js'
import { PairFeatures } from './pair-features.js'
import { lessonsOf } from './pretended.js'
import { lessonsOfParts, type Part, partsOf, wholeAsPart } from './region-parts.js'
import { type StateShown, statesAt } from './region-states.js'
import { RegionView } from './region-view.js'
import { unoccupiedFrames } from './unoccupied.js'

export interface Known {
  readonly registration: Registration
  /** What grain explains of the clean plate, stops, over the window. */
  readonly spread: Readonly<Float32Array>
  /** Per frame, 1 over the window where its pixel is good and nobody passes. */
  readonly steady: ReadonlyMap<Registered, Uint8Array>
  /** What counts as the region with nobody in front whatever surrounds the target, log2 luminance, over the window. */
  readonly usual: Readonly<Float32Array>
  /** Pairs as seen through the middle target frame's mask. */
  readonly features: PairFeatures
  /** What of it is judged by itself, all of it at once where it is seen empty often enough to learn from. */
  readonly parts: readonly Part[]
  /** What may hold at the target: one state, or what is seen before it and what after it. */
  readonly states: readonly StateShown[]
  readonly model: ErrorModel
}

/**
 * @param targets in order of their frames, at least one
 * @param noiseOf a frame's noise, stops; null where it is not known
 * @param lessons most pretended targets, as `lessonsOf` has it
 */
export function* knownOf(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
  noiseOf: (f: Registered) => number | null,
  lessons?: number,
): Steps<Known, never> {
  const { cleanPlate, window, minSpread, frames } = registration
  const mask = region.frames.get(targets[targets.length >> 1].frame)!
  const spread = explainedSpread(cleanPlate, mask.surround, minSpread)
  const steady = yield* steadyOf(workspace, frames, cleanPlate, spread)
  const view = viewOf(workspace, mask, registration, spread)
  yield* view.prepare(steady)
  const features = new PairFeatures(view, onlyInState(registration, yield* unoccupiedFrames(view)), window)
  const places = placesOf(targets, frames)
  const hidden = new Set(places)
  const middle = places[places.length >> 1]
  const states = yield* statesAt(workspace, registration, features, middle, (i) => hidden.has(i))
  // A part that somebody covers stands still as long as they do: no moment is told by it.
  const unoccupied = function* (of: RegionView) {
    return onlyInState(registration, yield* unoccupiedFrames(of, of.usual, false))
  }
  const learnt = yield* learntOf(features, unoccupied, places, noiseOf, lessons)
  return { registration, spread, steady, usual: cleanPlate.level, features, states, ...learnt }
}

/** Per frame, 1 over the window where its pixel is good and nobody passes. */
function* steadyOf(
  workspace: Workspace,
  frames: readonly Registered[],
  cleanPlate: CleanPlate,
  explained: Readonly<Float32Array>,
): Steps<Map<Registered, Uint8Array>, never> {
  const steady = new Map<Registered, Uint8Array>()
  const held = workspace.hold()
  try {
    const level = held.laid(cleanPlate.level)
    const spread = held.laid(explained)
    for (const f of frames) {
      yield
      const { aligned, validity, exposure } = f
      steady.set(f, steadyPixels(workspace, { aligned, validity, exposure, level, spread }))
    }
  } finally {
    held.release()
  }
  return steady
}

/** The same where one picture alone may be the region's, whatever surrounds the target. @param noiseOf, lessons as above */
export function* knownToShow(
  { registration, spread, steady, features: { view } }: Known,
  cleanPlate: CleanPlate,
  targets: readonly Registered[],
  noiseOf: (f: Registered) => number | null,
  lessons?: number,
): Steps<Known, never> {
  const usual = cleanPlate.level
  const unoccupied = function* (of: RegionView) {
    return onlyInState(registration, yield* unoccupiedFrames(of, gather(usual, of.list.own), false))
  }
  const features = new PairFeatures(view, yield* unoccupied(view), registration.window)
  const places = placesOf(targets, registration.frames)
  const learnt = yield* learntOf(features, unoccupied, places, noiseOf, lessons)
  return { registration, spread, steady, usual, features, states: [{ cleanPlate, local: null }], ...learnt }
}

/** What a frame in another state shows with nobody in front is not what the target hides. */
function onlyInState({ frames, inState }: Registration, unoccupied: Uint8Array): Uint8Array {
  return inState === undefined ? unoccupied : unoccupied.map((v, i) => (inState.has(frames[i]) ? v : 0))
}

/** @param unoccupied of a part of the region */
function* learntOf(
  features: PairFeatures,
  unoccupied: (view: RegionView) => Steps<Uint8Array, never>,
  targets: readonly number[],
  noiseOf: (f: Registered) => number | null,
  most?: number,
): Steps<Pick<Known, 'parts' | 'model'>, never> {
  const ofWhole = yield* lessonsOf(features, targets, noiseOf, most)
  const whole = { model: new ErrorModel(features.view.workspace, ofWhole), parts: [wholeAsPart(features)] }
  if (whole.model.taught || most === 0) return whole
  const parts = yield* partsOf(features, unoccupied)
  const ofParts = yield* lessonsOfParts(parts, targets, noiseOf, most)
  const model = new ErrorModel(
    features.view.workspace,
    ofParts,
    ofParts.map(({ target }) => target),
  )
  if (model.taught) return { model, parts }
  for (const part of parts) part.features.view.release()
  return whole
}

function placesOf(targets: readonly Registered[], frames: readonly Registered[]): number[] {
  const placeOf = new Map(frames.map((f, i) => [f, i]))
  return targets.map((t) => placeOf.get(t)!)
}

export function viewOf(
  workspace: Workspace,
  mask: RegionFrame,
  registration: Registration,
  spread: Readonly<Float32Array>,
): RegionView {
  return new RegionView(workspace, mask, registration.frames, registration, spread)
}
