// Wherever the region can be seen the truth is known: frames in which nobody stands there are taken for targets, their
// region hidden, and what is known of their pairs is held against what their region then really shows.

import { subsample } from '../../match/subsample.js'
import { CUBIC, shiftPower } from '../../raster/filters.js'
import { shiftOf, type Transform } from '../../raster/transform.js'
import type { Steps } from '../../turns.js'
import { meanOf } from '../over-frames.js'
import { between, type Registered } from '../register.js'
import { INVISIBLE } from './error-model.js'
import { type Around, gapBetween, type PairFeatures, type TargetRow } from './pair-features.js'
import { isApart } from './region-states.js'
import type { RegionView } from './region-view.js'
import type { Share } from './stack-shares.js'
import type { Lesson, Run } from './taught-error.js'

/** Most pretended targets: half of them round the real one, half spread over the plate. */
export const LESSONS = 48
/** Donors of each: spread over the plates, and the nearest beside them. */
const EVEN_DONORS = 104
const NEAR_DONORS = 24
/** Held over a range, the best donor differs by so many times what the best of each frame do: 3 dB. */
const NEVER_HELD = 2
/** So many pretended targets at least must tell that a plate comes back to what it showed, after one and the same time. */
const MIN_RETURNS = 4
/** With fewer donors than this a pretended target teaches nothing. */
const MIN_DONORS = 8

/**
 * @param targets places of the real targets in the view's frames, in order
 * @param noiseOf a frame's noise, stops; null where it is not known
 * @param most    pretended targets; 0: nothing is learnt
 * @returns in order of their frames
 */
export function* lessonsOf(
  features: PairFeatures,
  targets: readonly number[],
  noiseOf: (f: Registered) => number | null,
  most = LESSONS,
): Steps<PlacedLesson[], never> {
  const pretence = new Pretence(features, targets, noiseOf)
  const held = yield* taught(pretence, most, 'held')
  const neverHeld = held.filter((l) => l.neverHeld).length
  // On a few of them the region changed once, which no run follows.
  if (neverHeld <= held.length / 2) return held
  const along = yield* taught(pretence, most, 'runs')
  return returns(along) ? along : held
}

/** A lesson and its target's place in the view's frames. */
export interface PlacedLesson extends Lesson {
  readonly target: number
}

/** What is told of lessons besides donors that are held. */
type Telling = 'held' | 'runs'

function* taught(pretence: Pretence, most: number, telling: Telling) {
  const lessons: (PlacedLesson & { readonly neverHeld: boolean })[] = []
  for (const target of pretence.picked(most)) {
    yield
    const lesson = pretence.lesson(target, telling)
    if (lesson !== null) lessons.push(lesson)
  }
  return lessons
}

class Pretence {
  readonly #view: RegionView
  readonly #frames: readonly Registered[]
  readonly #plate: number
  readonly #middle: number
  /** Of the target's plate, by frame. */
  readonly #placeOf: ReadonlyMap<number, number>
  /** Places of frames whose region can be seen, and shows nobody or hardly anything of anybody. */
  readonly #able: readonly number[]
  /** Round the real target: are frames seen on either side, and does the region look another way on them? */
  readonly #sees: { readonly before: boolean; readonly after: boolean }
  readonly #changes: boolean
  /** Of a frame's noise power, what is left of it on the common grid; NaN where that was not asked for yet. */
  readonly #kept: Float64Array
  /** Where only one side is seen: how many frames lie between it and the real target. */
  readonly #beyond: number

  constructor(
    readonly features: PairFeatures,
    readonly targets: readonly number[],
    readonly noiseOf: (f: Registered) => number | null,
  ) {
    const { view, unoccupied } = features
    const { frames } = view
    const real = new Set(targets)
    this.#view = view
    this.#frames = frames
    this.#kept = new Float64Array(frames.length).fill(Number.NaN)
    this.#middle = targets[targets.length >> 1]
    const { plate } = frames[this.#middle]
    this.#plate = plate
    this.#placeOf = new Map(frames.flatMap((f, i) => (f.plate === plate ? [[f.frame, i]] : [])))
    this.#able = [...this.#placeOf.values()].filter(
      (i) => frames[i].held && unoccupied[i] > 0 && !real.has(i) && view.shows(i),
    )
    const about = features.around(this.#middle, (i) => real.has(i))
    this.#sees = { before: about.before.length > 0, after: about.after.length > 0 }
    this.#changes = isApart(view, about)
    const [nearest] = [...about.before, ...about.after]
    this.#beyond =
      this.#sees.before === this.#sees.after ? 0 : gapBetween(frames[nearest], frames[this.#middle])
  }

  /** Places of pretended targets, in order. */
  picked(most: number): number[] {
    const able = this.#able
    const whole = able.filter((i) => this.features.unoccupied[i] === 2)
    // Whose region shows somebody's foot is no truth; where there are few others it is better than none.
    const even = subsample(whole.length >= most ? whole : able, most >> 1)
    const near = this.features.nearest(this.#middle, able).slice(0, most >> 1)
    return [...new Set([...near, ...even])].sort((a, b) => a - b)
  }

  /** Null where the target's surroundings in time are not what those of the real one are. */
  lesson(target: number, telling: Telling): (PlacedLesson & { readonly neverHeld: boolean }) | null {
    const { features } = this
    const frames = this.#frames
    const range = this.#rangeOf(target)
    const unseen = new Set([...this.targets, ...range])
    const hidden = (i: number) => unseen.has(i) || this.#isBeyond(frames[i], frames[target])
    const donors = frames.flatMap((f, i) => (f.held && !hidden(i) ? [i] : []))
    const around = features.around(target, hidden)
    if (donors.length < MIN_DONORS || !this.#isLikeTheReal(around)) return null
    const even = subsample(donors, EVEN_DONORS)
    let columns = Int32Array.from([...even, ...nearest(frames, donors, target, new Set(even))])
    // A range is held against its ends and its middle: a donor may repeat one frame all but whole, as codecs do, not three.
    const ends = [range[0], range[range.length - 1]].filter((i) => i !== target && this.#able.includes(i))
    const shown = [target, ...new Set(ends)]
    let rows = this.#rows(shown, columns, around, even.length)
    let runs: Omit<Run, 'error'>[] = []
    const neverHeld = isNeverHeld(rows)
    if (telling === 'runs' && neverHeld) {
      ;({ columns, runs } = this.#runs(shown, donors, columns))
      rows = this.#rows(shown, columns, around, even.length)
    }
    const errorOf = (places: readonly number[]) =>
      Math.log(meanOf(rows.map(({ errors }, r) => errors[places[r]])) + LEAST)
    const errors = Float64Array.from(columns, (_, k) => errorOf(shown.map(() => k)))
    return {
      target,
      rows: rows.map(({ features, best }) => ({ features, best })),
      even: even.length,
      errors,
      each: runs.length > 0 ? rows.map((row) => row.errors.map((error) => Math.log(error + LEAST))) : [],
      runs: runs.map((run) => ({ ...run, error: errorOf(run.places) })),
      stacked: {
        able: Array.from(columns.keys()).filter((k) => features.unoccupied[columns[k]] > 0),
        error: (shares) =>
          Math.log(
            meanOf(rows.map(({ rings }, r) => this.#stackError(shown[r], columns, shares[r], rings))) + LEAST,
          ),
      },
      apart: this.#isRoundTheReal(around) ? null : features.apart(around),
      neverHeld,
    }
  }

  /** The same frames round a pretended target as the real range has round its middle, as far as they are there. */
  #rangeOf(target: number): number[] {
    const moved = this.#frames[target].frame - this.#frames[this.#middle].frame
    return this.targets.flatMap((t) => this.#placeOf.get(this.#frames[t].frame + moved) ?? [])
  }

  /**
   * A side that is not seen of the real target is hidden of a pretended one, too. So are then as many frames of the other as the
   * real one lies beyond: drift between two sides shows on both, but beyond what is seen nothing tells of it.
   */
  #isBeyond({ plate, frame }: Registered, target: Registered): boolean {
    if (plate !== this.#plate) return false
    const seen = frame < target.frame ? this.#sees.before : this.#sees.after
    return !seen || Math.abs(frame - target.frame) < this.#beyond
  }

  /** Where the region looks alike on both sides of the real target nothing is learnt from where it changes. */
  #isLikeTheReal(around: Around): boolean {
    const { before, after } = this.#sees
    if (around.before.length > 0 !== before || around.after.length > 0 !== after) return false
    return this.#changes || !isApart(this.#view, around)
  }

  /** Lies the real target between what is seen before a pretended one and after it? Then that tells of the real one. */
  #isRoundTheReal({ before, after }: Around): boolean {
    const real = this.#frames[this.#middle].frame
    return before.some((i) => this.#frames[i].frame < real) && after.some((i) => this.#frames[i].frame > real)
  }

  /** What is known of some frames and all donors, and the mean square error inside that each donor then has. */
  #rows(
    shown: readonly number[],
    columns: Readonly<Int32Array>,
    around: Around,
    even: number,
  ): (TargetRow & { errors: Float64Array })[] {
    const regions = this.features.regionsOf(around, columns)
    return shown.map((i) => {
      const row = this.features.row(i, columns, regions, even)
      return { ...row, errors: this.#errors(i, columns, row.rings) }
    })
  }

  /**
   * Donors that move along with the target: for each that is there for all frames the places of its donors among the columns,
   * to which those are added that were none yet.
   */
  #runs(
    shown: readonly number[],
    donors: readonly number[],
    columns: Readonly<Int32Array>,
  ): { columns: Int32Array<ArrayBuffer>; runs: Omit<Run, 'error'>[] } {
    const frames = this.#frames
    const able = new Set(donors)
    const places = new Map(Array.from(columns, (d, k) => [d, k]))
    const runs: Omit<Run, 'error'>[] = []
    for (const first of columns) {
      if (frames[first].plate !== this.#plate) continue
      const timeOffset = frames[first].frame - frames[shown[0]].frame
      const own = shown.map((i) => this.#placeOf.get(frames[i].frame + timeOffset))
      if (!own.every((d) => d !== undefined && able.has(d))) continue
      const theirs = own.map((d) => {
        const place = places.get(d!) ?? places.size
        places.set(d!, place)
        return place
      })
      runs.push({ timeOffset, places: theirs })
    }
    return { columns: Int32Array.from(places.keys()), runs }
  }

  /** The mean square error inside of each donor on a frame whose region can be seen. */
  #errors(shown: number, donors: Readonly<Int32Array>, rings: TargetRow['rings']): Float64Array {
    const view = this.#view
    const light = Float64Array.from(donors, (d, k) => this.#lightOf(shown, d, rings.stops[k]))
    const off = view.differences(view.pictureOf(shown), donors, light)
    return off.map((square, k) => square + this.#grainLost(shown, donors[k]))
  }

  /** The same of a mean of donors: the grain of each is lost by its share. */
  #stackError(
    shown: number,
    donors: Readonly<Int32Array>,
    shares: readonly Share[],
    rings: TargetRow['rings'],
  ): number {
    const view = this.#view
    const parts = shares.map(({ column, weight }) => {
      return {
        frame: donors[column],
        weight,
        stops: this.#lightOf(shown, donors[column], rings.stops[column]),
      }
    })
    const grain = parts.reduce(
      (sum, { frame, weight }) => sum + weight ** 2 * this.#grainLost(shown, frame),
      0,
    )
    return view.differenceOfMean(view.pictureOf(shown), parts) + grain
  }

  /** The light that would be laid on the donor, against the one that both are seen in. @param stops NaN: it is not known */
  #lightOf(shown: number, donor: number, stops: number): number {
    return (Number.isNaN(stops) ? 0 : stops) + this.#frames[shown].exposure - this.#frames[donor].exposure
  }

  /**
   * How much of a frame's noise power is missing between two frames on the common grid, both resampled, that is there between
   * a target as it was shot and a donor resampled once.
   */
  #grainLost(shown: number, donor: number): number {
    const [target, from] = [this.#frames[shown], this.#frames[donor]]
    const lost = 1 - this.#keptOf(shown) + this.#keptBy(between(target, from)) - this.#keptOf(donor)
    const grain = lost * (this.noiseOf(from) ?? 0) ** 2
    return Math.max(0, grain) * this.#view.stopWorth
  }

  /** The share of its noise power that a frame keeps on the common grid. */
  #keptOf(frame: number): number {
    if (Number.isNaN(this.#kept[frame])) this.#kept[frame] = this.#keptBy(this.#frames[frame].pose)
    return this.#kept[frame]
  }

  #keptBy(transform: Transform): number {
    const { dx, dy } = shiftOf(transform, this.features.window)
    return shiftPower(dx, dy, CUBIC)
  }
}

/**
 * Is no frame near to all of a range, but one to each of its frames? On most ranges of a plate that changes from frame to frame,
 * under mains light or between the fields of interlaced frames: what moves along with the target may be nearer there.
 */
function isNeverHeld(rows: readonly { readonly errors: Float64Array }[]): boolean {
  const held = Math.min(...rows[0].errors.map((_, k) => meanOf(rows.map(({ errors }) => errors[k]))))
  const each = meanOf(rows.map(({ errors }) => Math.min(...errors)))
  return held > INVISIBLE && held > NEVER_HELD * each
}

/**
 * Does the plate come back to what it showed? One and the same time offset is then nearer than whatever is held, on most of
 * the pretended targets that have a run of it. Where a region drifts or jitters that is so now and then, by chance.
 */
export function returns(lessons: readonly Pick<Lesson, 'errors' | 'runs'>[]): boolean {
  const found = new Map<number, { nearer: number; all: number }>()
  for (const { errors, runs } of lessons) {
    const near = Math.min(...errors) - Math.log(NEVER_HELD)
    for (const { timeOffset, error } of runs) {
      const count = found.get(timeOffset) ?? { nearer: 0, all: 0 }
      found.set(timeOffset, { nearer: count.nearer + (error < near ? 1 : 0), all: count.all + 1 })
    }
  }
  return [...found.values()].some(({ nearer, all }) => all >= MIN_RETURNS && nearer > all / 2)
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
