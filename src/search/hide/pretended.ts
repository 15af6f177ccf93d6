// Wherever the region can be seen the truth is known: frames in which nobody stands there are taken for targets, their
// region hidden, and what is known of their pairs is held against what their region then really shows.

import { subsample } from '../../match/subsample.js'
import { CUBIC, shiftPower } from '../../raster/filters.js'
import type { Rect } from '../../raster/rect.js'
import { shiftOf, type Transform } from '../../raster/transform.js'
import type { Steps } from '../../turns.js'
import { between, type Registered } from '../register.js'
import type { Lesson } from './error-model.js'
import { type Around, gapBetween, type PairFeatures } from './pair-features.js'
import { isApart } from './region-states.js'
import type { RegionView } from './region-view.js'

/** Pretended targets: half of them round the real one, half spread over the plate. */
const LESSONS = 48
/** Donors of each: spread over the plates, and the nearest beside them. */
const EVEN_DONORS = 104
const NEAR_DONORS = 24
/** With fewer donors than this a pretended target teaches nothing. */
const MIN_DONORS = 8

/**
 * @param targets places of the real targets in the view's frames
 * @param noiseOf a frame's noise, stops; null where it is not known
 * @returns in order of their frames
 */
export function* lessonsOf(
  view: RegionView,
  features: PairFeatures,
  targets: readonly number[],
  noiseOf: (f: Registered) => number | null,
): Steps<Lesson[], never> {
  const { frames } = view
  const real = new Set(targets)
  const middle = targets[targets.length >> 1]
  const { plate, frame } = frames[middle]
  const able = frames.flatMap((f, i) =>
    f.plate === plate && f.held && features.unoccupied[i] > 0 && !real.has(i) && view.shows(i) ? [i] : [],
  )
  const near = [...able].sort((a, b) => Math.abs(frames[a].frame - frame) - Math.abs(frames[b].frame - frame))
  const picked = new Set([...near.slice(0, LESSONS / 2), ...subsample(able, LESSONS / 2)])
  const changes = isApart(
    view,
    features.around(middle, (i) => real.has(i)),
  )
  // Where the region looks alike on both sides of the target nothing is learnt from where it changes.
  const allowed = (around: Around) => changes || !isApart(view, around)
  const lessons: Lesson[] = []
  for (const target of [...picked].sort((a, b) => a - b)) {
    yield
    const lesson = lessonOf(view, features, targets, middle, target, allowed, noiseOf)
    if (lesson !== null) lessons.push(lesson)
  }
  return lessons
}

function lessonOf(
  view: RegionView,
  features: PairFeatures,
  targets: readonly number[],
  middle: number,
  target: number,
  allowed: (around: Around) => boolean,
  noiseOf: (f: Registered) => number | null,
): Lesson | null {
  const { frames } = view
  // The same frames round it are hidden as are hidden round the real one.
  const moved = frames[target].frame - frames[middle].frame
  const numbers = new Set(targets.map((t) => frames[t].frame + moved))
  const real = new Set(targets)
  const hidden = (i: number) =>
    real.has(i) || (frames[i].plate === frames[target].plate && numbers.has(frames[i].frame))
  const donors = frames.flatMap((f, i) => (f.held && !hidden(i) ? [i] : []))
  if (donors.length < MIN_DONORS) return null
  const around = features.around(target, hidden)
  if (!allowed(around)) return null
  const even = subsample(donors, EVEN_DONORS)
  const chosen = [...even, ...nearest(frames, donors, target, new Set(even))]
  const row = features.row(target, around, Int32Array.from(chosen), even.length)
  const truth = view.pictureOf(target)
  const errors = Float64Array.from(chosen, (donor, k) => {
    // The light that would be laid on the donor, against the one that both are seen in.
    const stops = (row.rings[k]?.stops ?? 0) + frames[target].exposure - frames[donor].exposure
    const grain =
      grainLost(frames[target], frames[donor], features.window) * (noiseOf(frames[donor]) ?? 0) ** 2
    return Math.log(view.difference(truth, donor, stops) + Math.max(0, grain) * view.stopWorth + LEAST)
  })
  return { features: row.features, even: even.length, best: row.best, errors }
}

/**
 * How much of a frame's noise power is missing between two frames on the common grid, both resampled, that is there between
 * a target as it was shot and a donor resampled once.
 */
function grainLost(target: Registered, donor: Registered, window: Rect): number {
  const kept = (transform: Transform) => {
    const { dx, dy } = shiftOf(transform, window)
    return shiftPower(dx, dy, CUBIC)
  }
  return 1 - kept(target.pose) + kept(between(target, donor)) - kept(donor.pose)
}

/** Mean square errors below this, code values squared, are none: 90 dB. */
const LEAST = 1e-9

function nearest(
  frames: readonly Registered[],
  donors: readonly number[],
  target: number,
  without: ReadonlySet<number>,
): number[] {
  const gap = (i: number) => gapBetween(frames[target], frames[i])
  const near = [...donors].sort((a, b) => gap(a) - gap(b)).slice(0, NEAR_DONORS)
  return near.filter((i) => !without.has(i))
}
