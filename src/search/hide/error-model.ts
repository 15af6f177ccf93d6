// What a donor will differ by inside the region, learnt on this very plate. The prior is a sum of what is known of a pair;
// what the plate has to say against it is learnt as trees that can only rise where the prior does.

import { type BoostedTrees, growTrees, type TreesSetup } from '../../match/boosted-trees.js'
import { type Case, lowerBound, upperBound } from '../../match/conformal.js'
import type { Expected } from '../measure.js'
import { bestOf, DIFFERENCES, FEATURES, RISING, type TargetRow } from './pair-features.js'

/** A pretended target: what was known of its pairs, and what its region then really differed by. */
export interface Lesson {
  /** What is known of its donors: of the target first, then of other frames of its range. */
  readonly rows: readonly Pick<TargetRow, 'features' | 'best'>[]
  /** The first so many donors are spread evenly over the plate. */
  readonly even: number
  /** Per donor, log of the mean square error inside, display code values squared. */
  readonly errors: Float64Array
  /** How far its region before it lies from the one after it, mean square; null: one is not seen, or the real target lies between. */
  readonly apart: number | null
}

/** From so many pretended targets on the plate is believed; with fewer the prior stands alone. */
export const MIN_LESSONS = 8
/** No eye tells differences apart that are smaller than this, dB of peak signal to noise. */
export const INVISIBLE_DB = 46
const INVISIBLE = 10 ** (-INVISIBLE_DB / 10)

/**
 * Share of each number of a pair in the log of its squared error, relative to the target's best: least squares with no
 * share below 0 on pretended targets of two locked-off plates of real footage. By either plate's shares alone, the first
 * donor on the other loses 0.4 dB at the median; with the plate's own lessons on top, nothing.
 */
const PRIOR = [0.6, 0.4, 0.15, 0.7, 0.15, 0.1, 0.02, 1.3, 0]
/** The log of the best donors' squared error over that of their difference from the blend. */
const PRIOR_LEVEL = 0.55
/**
 * How far the prior alone may be off, dB: nine rows in ten of made scenes that taught nothing, each scene weighing the same. On
 * two locked-off plates it was off by -7 to 4, and of those scenes that held four rows in ten.
 */
const PRIOR_ERROR: readonly [low: number, high: number] = [-16, 14]
/** What is expected to be nearer than any eye tells is believed to be so if it may be off by this, dB: the two plates' own. */
const PRIOR_BELOW = -7
/** What its first choice may lose, dB: the worse of the two plates, held apart. */
const PRIOR_WORSE = 4.5

const RELATIVE: TreesSetup = { rising: RISING, trees: 60, depth: 3, rate: 0.12, minLeaf: 30 }
const LEVEL: TreesSetup = {
  rising: new Array<1>(DIFFERENCES).fill(1),
  trees: 24,
  depth: 2,
  rate: 0.15,
  minLeaf: 6,
}
/** Lessons are foretold by what the others teach, a fifth of them, one after the other in time, at once. */
const FOLDS = 5
/** Donors of a pretended target that would have been chosen: the first by what is expected of them. */
const CHOSEN = 8
/** And the first of those, by which a first choice's shortfall is told; and those after them, by which the others' is. */
const FIRST = 3
const LATER = 16
const DB = 10 / Math.LN10

class Fitted {
  constructor(
    readonly relative: BoostedTrees | null,
    readonly level: BoostedTrees | null,
  ) {}

  /** Log of the expected mean square error of a target's best donors. */
  levelOf(best: Readonly<Float32Array>): number {
    return priorLevel(best) + (this.level?.predict(best) ?? 0)
  }

  /** Log of a pair's over that. */
  relativeOf(features: Readonly<Float32Array>, at: number): number {
    return prior(features, at) + (this.relative?.predict(features, at) ?? 0)
  }

  /** Expected mean square error of each donor over a range. */
  overRange({ rows, errors }: Lesson): Float64Array {
    const sums = new Float64Array(errors.length)
    for (const { features, best } of rows) {
      const level = this.levelOf(best)
      for (let k = 0; k < sums.length; k++)
        sums[k] += Math.exp(level + this.relativeOf(features, k * FEATURES))
    }
    return sums.map((sum) => sum / rows.length)
  }
}

export class ErrorModel {
  readonly #fitted: Fitted
  /** Of the chosen ones, and of all others, how much better than expected they may be, dB. */
  readonly #chosen: readonly [low: number, high: number]
  readonly #others: readonly [low: number, high: number]
  /** How far below what is expected both may be where nothing can be seen of it, dB. */
  readonly #below: readonly [chosen: number, others: number]
  /** How much further behind the best than expected the first choices may be, and those after them, dB. */
  readonly #first: number
  readonly #later: number
  /** The furthest that a lesson's region lies apart before it and after it, mean square. */
  readonly #mostApart: number

  /** @param lessons in order of their frames */
  constructor(readonly lessons: readonly Lesson[]) {
    const taught = lessons.length >= MIN_LESSONS
    this.#fitted = taught ? taughtBy(lessons) : new Fitted(null, null)
    const apart = lessons.flatMap((l) => l.apart ?? [])
    this.#mostApart = apart.length >= MIN_LESSONS ? Math.max(...apart) : Number.POSITIVE_INFINITY
    if (!taught) {
      this.#chosen = PRIOR_ERROR
      this.#others = PRIOR_ERROR
      this.#below = [PRIOR_BELOW, PRIOR_BELOW]
      this.#first = PRIOR_WORSE
      this.#later = PRIOR_WORSE
      return
    }
    const { chosen, others, first, later } = foretold(lessons)
    this.#chosen = [lower(chosen, PRIOR_ERROR[0]), upper(chosen, PRIOR_ERROR[1])]
    this.#others = [lower(others, PRIOR_ERROR[0]), upper(others, PRIOR_ERROR[1])]
    this.#below = [lower(chosen, PRIOR_BELOW), lower(others, PRIOR_BELOW)]
    this.#first = upper(first, PRIOR_WORSE)
    this.#later = Math.max(this.#first, upper(later, PRIOR_WORSE))
  }

  /** Did the plate teach anything, or is all that is expected learnt on others? */
  get taught(): boolean {
    return this.lessons.length >= MIN_LESSONS
  }

  /** The expected mean square error inside, display code values squared. */
  meanSquare(features: Readonly<Float32Array>, at: number, best: Readonly<Float32Array>): number {
    return Math.exp(this.#fitted.levelOf(best) + this.#fitted.relativeOf(features, at))
  }

  /**
   * The square of a step of the region's that no lesson tells of, between what is seen before the target and after it: codecs
   * draw the region anew where somebody leaves it, a light is touched. Which of both the target shows is not known, so half
   * of it is to be expected of either. 0: lessons tell of as much.
   *
   * @param apart as of a lesson
   */
  unsettled(apart: number | null): number {
    return Math.max(0, (apart ?? 0) - this.#mostApart)
  }

  /**
   * @param db        what is expected of a candidate
   * @param best      what is expected of the plate's best single donor, dB
   * @param unsettled the step that is in both
   */
  expected(db: number, best: number, unsettled = 0): Expected {
    // Who shows the other side is all of it off, who shows this one nothing.
    const without = Math.max(10 ** (-best / 10) - unsettled / 2, INVISIBLE)
    const behind = best - db + 10 * Math.log10(1 + unsettled / without)
    const isChosen = best - db <= CLOSE_DB
    const [low, high] = isChosen ? this.#chosen : this.#others
    const certain = Math.min(
      behind + (best - db <= FIRST_DB ? this.#first : this.#later),
      INVISIBLE_DB - (db + this.#below[isChosen ? 0 : 1]),
    )
    return { db, low: db + low, high: db + high, shortfall: Math.max(0, certain) }
  }
}

/** A candidate that is expected to be so near to the best is one of those that are chosen, dB. */
const CLOSE_DB = 1.5
/** ... and so near, one of the first of those, dB. */
const FIRST_DB = 0.5
/** So many cases are the fewest that can be 95 per cent confident. */
const CONFIDENT_CASES = 19
const CONFIDENCE = 0.95

/** The upper bound of a new case, dB; with too few cases the largest one seen, the further towards the prior's the fewer. */
function upper(cases: readonly Case[], prior: number): number {
  const bound = upperBound(cases, CONFIDENCE)
  return Number.isFinite(bound) ? bound : towards(prior, Math.max(0, ...cases.flat()), cases)
}

/** As `upper`, from below. */
function lower(cases: readonly Case[], prior: number): number {
  const bound = lowerBound(cases, CONFIDENCE)
  return Number.isFinite(bound) ? bound : towards(prior, Math.min(0, ...cases.flat()), cases)
}

function towards(prior: number, seen: number, cases: readonly Case[]): number {
  const share = Math.min(1, cases.filter((c) => c.length > 0).length / CONFIDENT_CASES)
  return share * seen + (1 - share) * prior
}

function prior(features: Readonly<Float32Array>, at: number): number {
  let sum = 0
  for (let f = 0; f < FEATURES; f++) sum += PRIOR[f] * features[at + f]
  return sum
}

function priorLevel(best: Readonly<Float32Array>): number {
  return 2 * best[4] + PRIOR_LEVEL
}

/** What a lesson's best donors really differed by, log. */
function levelOf({ errors, even }: Lesson): number {
  return bestOf(errors.slice(0, even))
}

function taughtBy(lessons: readonly Lesson[]): Fitted {
  const n = lessons.reduce((sum, l) => sum + l.errors.length, 0)
  const features = new Float32Array(n * FEATURES)
  const left = new Float64Array(n)
  const bests = new Float32Array(lessons.length * DIFFERENCES)
  const leftLevel = new Float64Array(lessons.length)
  let at = 0
  for (const [l, lesson] of lessons.entries()) {
    const level = levelOf(lesson)
    const [told] = lesson.rows
    features.set(told.features, at * FEATURES)
    for (let k = 0; k < lesson.errors.length; k++, at++)
      left[at] = lesson.errors[k] - level - prior(told.features, k * FEATURES)
    bests.set(told.best, l * DIFFERENCES)
    leftLevel[l] = level - priorLevel(told.best)
  }
  return new Fitted(growTrees(features, left, RELATIVE), growTrees(bests, leftLevel, LEVEL))
}

/** One lesson's donors, dB: how much better than expected, and how much further behind the best than expected. */
interface Foretold {
  readonly chosen: Case
  readonly others: Case
  readonly first: Case
  readonly later: Case
}

/** Each lesson foretold by what the others teach. */
function foretold(lessons: readonly Lesson[]): Record<keyof Foretold, Case[]> {
  const found: Record<keyof Foretold, Case[]> = { chosen: [], others: [], first: [], later: [] }
  for (let fold = 0; fold < FOLDS; fold++) {
    const from = Math.floor((fold * lessons.length) / FOLDS)
    const to = Math.floor(((fold + 1) * lessons.length) / FOLDS)
    const model = taughtBy([...lessons.slice(0, from), ...lessons.slice(to)])
    for (const lesson of lessons.slice(from, to)) {
      const { chosen, others, first, later } = compared(model, lesson)
      found.chosen.push(chosen)
      found.others.push(others)
      found.first.push(first)
      found.later.push(later)
    }
  }
  return found
}

function compared(model: Fitted, lesson: Lesson): Foretold {
  const foreseen = model.overRange(lesson)
  const pairs = Array.from(lesson.errors, (error, k) => {
    return { expected: -DB * Math.log(foreseen[k]), true: -DB * error }
  })
  pairs.sort((a, b) => b.expected - a.expected)
  const chosen = pairs.slice(0, CHOSEN)
  const best = Math.min(INVISIBLE_DB, Math.max(...pairs.map((p) => p.true)))
  const behind = (p: (typeof pairs)[number]) =>
    best - Math.min(INVISIBLE_DB, p.true) - (pairs[0].expected - p.expected)
  return {
    chosen: chosen.map((p) => p.true - p.expected),
    others: pairs.slice(CHOSEN).map((p) => p.true - p.expected),
    first: pairs.slice(0, FIRST).map(behind),
    later: pairs.slice(FIRST, LATER).map(behind),
  }
}
