// Wherever the region can be seen the truth is known: frames in which nobody stands there are taken for targets, their
// region hidden, and what is known of their pairs is held against what their region then really shows.

import { subsample } from '../../match/subsample.js'
import { CUBIC, shiftPower } from '../../raster/filters.js'
import type { Rect } from '../../raster/rect.js'
import { shiftOf, type Transform } from '../../raster/transform.js'
import type { Steps } from '../../turns.js'
import { between, type Registered } from '../register.js'
import type { Lesson } from './error-model.js'
import { gapBetween, type PairFeatures } from './pair-features.js'
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
 * @param targets places of the real targets in the view's frames, in order
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
  const placeOf = new Map(frames.flatMap((f, i) => (f.plate === plate ? [[f.frame, i]] : [])))
  const shows = (i: number) => frames[i].held && features.unoccupied[i] > 0 && !real.has(i) && view.shows(i)
  const able = [...placeOf.values()].filter(shows)
  const near = [...able].sort((a, b) => Math.abs(frames[a].frame - frame) - Math.abs(frames[b].frame - frame))
  const picked = new Set([...near.slice(0, LESSONS / 2), ...subsample(able, LESSONS / 2)])
  const changes = isApart(
    view,
    features.around(middle, (i) => real.has(i)),
  )
  const lessons: Lesson[] = []
  for (const target of [...picked].sort((a, b) => a - b)) {
    yield
    // The same frames round it are hidden as are hidden round the real one.
    const moved = frames[target].frame - frame
    const range = targets.flatMap((t) => placeOf.get(frames[t].frame + moved) ?? [])
    const unseen = new Set([...targets, ...range])
    const donors = frames.flatMap((f, i) => (f.held && !unseen.has(i) ? [i] : []))
    if (donors.length < MIN_DONORS) continue
    const around = features.around(target, (i) => unseen.has(i))
    // Where the region looks alike on both sides of the target nothing is learnt from where it changes.
    if (!changes && isApart(view, around)) continue
    const even = subsample(donors, EVEN_DONORS)
    const columns = Int32Array.from([...even, ...nearest(frames, donors, target, new Set(even))])
    const { features: told, best } = features.row(target, around, columns, even.length)
    // A range is held against its ends and its middle: a donor may repeat one frame all but whole, as codecs do, not three.
    const shown = [...new Set([range[0], target, range[range.length - 1]])].filter(
      (i) => i === target || shows(i),
    )
    const errors = errorsOf(view, shown, columns, noiseOf, features.window)
    lessons.push({ features: told, even: even.length, best, errors })
  }
  return lessons
}

/** Log of the mean square error inside of each donor over some frames whose region can be seen. */
function errorsOf(
  view: RegionView,
  shown: readonly number[],
  donors: Readonly<Int32Array>,
  noiseOf: (f: Registered) => number | null,
  window: Rect,
): Float64Array {
  const { frames } = view
  const sums = new Float64Array(donors.length)
  for (const i of shown) {
    const truth = view.pictureOf(i)
    view.ringsOf(i, donors, (k, ring) => {
      const donor = frames[donors[k]]
      // The light that would be laid on the donor, against the one that both are seen in.
      const stops = (ring?.stops ?? 0) + frames[i].exposure - donor.exposure
      const grain = grainLost(frames[i], donor, window) * (noiseOf(donor) ?? 0) ** 2
      sums[k] += view.difference(truth, donors[k], stops) + Math.max(0, grain) * view.stopWorth
    })
  }
  return sums.map((sum) => Math.log(sum / shown.length + LEAST))
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
