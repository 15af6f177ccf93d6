// What a donor will differ by inside the region, learnt on this very plate, and how far off that may be: each lesson foretold
// by what the others teach.

import type { Workspace } from '../../kernels/workspace.js'
import { type Case, lowerBound, upperBound, weightOf } from '../../match/conformal.js'
import { INVISIBLE_DB } from '../../match/thresholds.js'
import type { Expected } from '../measure.js'
import type { TargetRow } from './pair-features.js'
import { stackOf } from './stack-shares.js'
import { Fitted, type Lesson, taughtBy } from './taught-error.js'

/** From so many pretended targets on the plate is believed; with fewer the prior stands alone. */
export const MIN_LESSONS = 8
/** The same, mean square in code values. */
export const INVISIBLE = 10 ** (-INVISIBLE_DB / 10)

/**
 * How far the prior alone may be off, dB: nine rows in ten of made scenes that taught nothing, each scene weighing the same. On
 * two locked-off plates it was off by -7 to 4, and of those scenes that held four rows in ten.
 */
const PRIOR_ERROR: readonly [low: number, high: number] = [-16, 14]
/** What is expected to be nearer than any eye tells is believed to be so if it may be off by this, dB: the two plates' own. */
const PRIOR_BELOW = -7
/** What its first choice may lose, dB: the worse of the two plates, held apart. */
const PRIOR_WORSE = 4.5

/** Lessons are foretold by what the others teach, a fifth of them, one after the other in time, at once. */
const FOLDS = 5
/** Donors of a pretended target that would have been chosen: the first by what is expected of them. */
const CHOSEN = 8
/** And the first of those, by which a first choice's shortfall is told; and those after them, by which the others' is. */
const FIRST = 3
const LATER = 16
const DB = 10 / Math.LN10

export class ErrorModel {
  readonly #fitted: Fitted
  /** Of the chosen ones, and of all others, how much better than expected they may be, dB. */
  readonly #chosen: readonly [low: number, high: number]
  readonly #others: readonly [low: number, high: number]
  /** How far below what is expected both may be where nothing can be seen of it, dB. */
  readonly #below: readonly [chosen: number, others: number]
  /** Per lesson, how much further behind the best than expected the first choices were, and those after them, dB. */
  readonly #behind: Pick<Record<keyof Foretold, readonly Case[]>, 'first' | 'later' | 'stack'>
  /** The furthest that a lesson's region lies apart before it and after it, mean square. */
  readonly #mostApart: number

  /** Lessons of one frame tell of one case: their places. */
  readonly #moments: readonly (readonly number[])[]

  /**
   * @param lessons in order of their frames
   * @param ofParts where they are of parts of the region: the frame of each, as one may teach of several parts
   */
  constructor(
    workspace: Workspace,
    readonly lessons: readonly Lesson[],
    readonly ofParts: readonly number[] | null = null,
  ) {
    this.#moments = momentsOf(ofParts ?? [...lessons.keys()])
    const { taught } = this
    this.#fitted = taught ? taughtBy(workspace, lessons) : new Fitted(null, null)
    const apart = lessons.flatMap((l) => l.apart ?? [])
    this.#mostApart = apart.length >= MIN_LESSONS ? Math.max(...apart) : Number.POSITIVE_INFINITY
    if (!taught) {
      this.#chosen = PRIOR_ERROR
      this.#others = PRIOR_ERROR
      this.#below = [PRIOR_BELOW, PRIOR_BELOW]
      this.#behind = { first: [], later: [], stack: [] }
      return
    }
    const { chosen, others, first, later, stack } = foretold(workspace, lessons, this.#moments)
    this.#chosen = [lower(chosen, PRIOR_ERROR[0]), upper(chosen, PRIOR_ERROR[1])]
    this.#others = [lower(others, PRIOR_ERROR[0]), upper(others, PRIOR_ERROR[1])]
    this.#below = [lower(chosen, PRIOR_BELOW), lower(others, PRIOR_BELOW)]
    this.#behind = { first, later, stack }
  }

  /** Did the plate teach anything, or is all that is expected learnt on others? */
  get taught(): boolean {
    return this.#moments.length >= MIN_LESSONS
  }

  /** The expected mean square error inside of each donor of a target, display code values squared. */
  meanSquares(row: Pick<TargetRow, 'features' | 'best'>): Float64Array {
    return this.#fitted.meanSquares(row)
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
   * How much further behind the best than expected the first choices may be, and those after them, dB: told by lessons whose
   * region lay as far apart before and after as the target's does. A calmer one tells the less of it, the square of how much
   * less it changed: where a codec draws a region anew, a place where it does not tells nothing of what the wrong side costs.
   * What too few tell of may be all of it: the target then shows one side, and what was chosen the other.
   *
   * @param best  what is expected of the plate's best single donor, dB
   * @param apart as of a lesson
   */
  behind(best: number, apart: number | null): Behind {
    const each = likeness(this.lessons, apart)
    const weights = this.#moments.map((of) => of.reduce((sum, i) => sum + each[i], 0) / of.length)
    const otherSide = 10 * Math.log10(1 + (apart ?? 0) / Math.max(10 ** (-best / 10), INVISIBLE))
    const worst = Math.max(PRIOR_WORSE, otherSide)
    const first = upper(this.#behind.first, worst, weights)
    const untold = 1 - shareTold(weightOf(this.#behind.first, weights))
    return {
      first,
      later: Math.max(first, upper(this.#behind.later, worst, weights)),
      stack: upper(this.#behind.stack, worst, weights),
      otherSide: otherSide > PRIOR_WORSE ? untold : 0,
    }
  }

  /**
   * @param db   what is expected of a candidate by its pairs
   * @param best what is expected of the plate's best single donor, dB
   */
  expected(
    db: number,
    best: number,
    {
      behind = this.behind(best, null),
      unsettled = 0,
      ofDonors = null,
      most = Number.POSITIVE_INFINITY,
    }: Circumstances = {},
  ): Expected {
    // Who shows the other side is all of it off, who shows this one nothing.
    const without = Math.max(10 ** (-best / 10) - unsettled / 2, INVISIBLE)
    const likely = best - db + 10 * Math.log10(1 + unsettled / without)
    const more = this.#furtherBehind(db, best, behind, ofDonors)
    // Less grain than the best has is no help to who shows the other side.
    const lost = behind.otherSide * Math.max(0, -likely)
    const isChosen = best - db <= CLOSE_DB
    const [low, high] = isChosen ? this.#chosen : this.#others
    const nearest = Math.min(db, most)
    const certain = Math.min(likely + more + lost, INVISIBLE_DB - (nearest + this.#below[isChosen ? 0 : 1]))
    // Whoever comes first by what is expected is often there by luck: where lessons' first choices all came to less, so will this.
    const off = Math.min(Math.max(0, low), high)
    return {
      db: nearest + off,
      low: nearest + low,
      high: nearest + high,
      shortfall: Math.max(0, certain),
    }
  }

  /** How much further behind the best than expected a candidate may be, dB. */
  #furtherBehind(db: number, best: number, behind: Behind, ofDonors: number | null): number {
    const isFirst = (of: number) => best - of <= FIRST_DB
    // What is nearer than any one donor is put together from several, and no part tells what that may lose.
    const isPieced = this.ofParts !== null && ofDonors === null && db > best
    const asOne = isPieced ? PRIOR_WORSE : isFirst(ofDonors ?? db) ? behind.first : behind.later
    if (ofDonors === null) return asOne
    // Squares are convex (J. Jensen, 1906): a mean is no further off than its donors are in the mean, so it is not further behind
    // what is expected of it than they may be, either; what averages out is expected already.
    const asMean = isFirst(db) ? behind.stack : Math.max(behind.stack, behind.later)
    return Math.min(asMean, asOne)
  }
}

/** What an expectation hangs on beside a candidate's own pairs. */
export interface Circumstances {
  /** How much further behind the best than expected it may be; absent: as where nothing changes. */
  readonly behind?: Behind
  /** The step that is in what is expected of it and of the best, mean square; absent: none. */
  readonly unsettled?: number
  /** Of a mean of several, what is expected of those, each by its share, dB; null or absent: it is no mean. */
  readonly ofDonors?: number | null
  /** Nothing is nearer to the truth than this, dB: what the target's surround comes to. */
  readonly most?: number
}

/** How much further behind the best than expected a candidate may be, dB. */
export interface Behind {
  /** One of the first choices. */
  readonly first: number
  /** One of those after them. */
  readonly later: number
  /** The mean of several. */
  readonly stack: number
  /** Share of all that is what the other side costs, 0 to 1. */
  readonly otherSide: number
}

/** A candidate that is expected to be so near to the best is one of those that are chosen, dB. */
const CLOSE_DB = 1.5
/** ... and so near, one of the first of those, dB. */
const FIRST_DB = 0.5
/** So many cases are the fewest that can be 95 per cent confident. */
const CONFIDENT_CASES = 19
const CONFIDENCE = 0.95

/** A lesson whose region lies apart by so much of what the target's does tells as much of it as one that lies further: 3 dB less. */
const ALIKE_SHARE = 0.5

/** How much like a target each lesson is, 0 to 1, by how far its region lies apart. */
function likeness(lessons: readonly Lesson[], apart: number | null): number[] {
  const told = lessons.map((l) =>
    !apart || l.apart === null ? null : Math.min(1, l.apart / (ALIKE_SHARE * apart)) ** 2,
  )
  // Of which it is not known are as the middle one of the others.
  const known = told.filter((w) => w !== null).sort((a, b) => a - b)
  return told.map((w) => w ?? known[known.length >> 1] ?? 1)
}

/**
 * The upper bound of a new case, dB; with too few cases the largest one seen, the further towards the prior's the fewer.
 *
 * @param weights as `upperBound` has them
 */
function upper(cases: readonly Case[], prior: number, weights?: readonly number[]): number {
  const bound = upperBound(cases, CONFIDENCE, weights)
  return Number.isFinite(bound)
    ? bound
    : towards(prior, Math.max(0, ...cases.flat()), weightOf(cases, weights))
}

/** As `upper`, from below. */
function lower(cases: readonly Case[], prior: number): number {
  const bound = lowerBound(cases, CONFIDENCE)
  return Number.isFinite(bound) ? bound : towards(prior, Math.min(0, ...cases.flat()), weightOf(cases))
}

/** How far so many cases are believed, 0 to 1. */
function shareTold(cases: number): number {
  return Math.min(1, cases / CONFIDENT_CASES)
}

/** @param cases how many were seen */
function towards(prior: number, seen: number, cases: number): number {
  const share = shareTold(cases)
  return share * seen + (1 - share) * prior
}

/** Places of lessons next to each other that are of the same frame. */
function momentsOf(frames: readonly number[]): number[][] {
  const moments: number[][] = []
  for (const [i, frame] of frames.entries()) {
    if (i > 0 && frames[i - 1] === frame) moments[moments.length - 1].push(i)
    else moments.push([i])
  }
  return moments
}

const FORETOLD = ['chosen', 'others', 'first', 'later', 'stack'] as const

/** One lesson's donors, dB: how much better than expected, and how much further behind the best than expected. */
interface Foretold {
  readonly chosen: Case
  readonly others: Case
  readonly first: Case
  readonly later: Case
  /** ... of the mean of its best, if it has one. */
  readonly stack: Case
}

/** Each lesson foretold by what those of other frames teach, a case for each frame. */
function foretold(
  workspace: Workspace,
  lessons: readonly Lesson[],
  moments: readonly (readonly number[])[],
): Record<keyof Foretold, Case[]> {
  const found: Record<keyof Foretold, Case[]> = { chosen: [], others: [], first: [], later: [], stack: [] }
  for (let fold = 0; fold < FOLDS; fold++) {
    const from = Math.floor((fold * moments.length) / FOLDS)
    const to = Math.floor(((fold + 1) * moments.length) / FOLDS)
    const others = [...moments.slice(0, from), ...moments.slice(to)].flat()
    const model = taughtBy(
      workspace,
      others.map((i) => lessons[i]),
    )
    for (const moment of moments.slice(from, to)) {
      const told = moment.map((i) => compared(model, lessons[i]))
      for (const kind of FORETOLD) found[kind].push(told.flatMap((of) => of[kind]))
    }
  }
  return found
}

function compared(model: Fitted, lesson: Lesson): Foretold {
  const rows = lesson.rows.map((row) => model.meanSquares(row))
  const pair = (foreseen: number, error: number) => {
    return { expected: -DB * Math.log(foreseen), true: -DB * error }
  }
  /** @param places of its donors, one for each frame of the range */
  const overRange = (places: readonly number[], error: number) =>
    pair(places.reduce((sum, k, r) => sum + rows[r][k], 0) / rows.length, error)
  const pairs = [
    ...Array.from(lesson.errors, (error, k) => overRange(new Array<number>(rows.length).fill(k), error)),
    ...lesson.runs.map(({ error, places }) => overRange(places, error)),
  ]
  pairs.sort((a, b) => b.expected - a.expected)
  const chosen = pairs.slice(0, CHOSEN)
  const best = Math.min(INVISIBLE_DB, Math.max(...pairs.map((p) => p.true)))
  const behind = (p: (typeof pairs)[number]) =>
    best - Math.min(INVISIBLE_DB, p.true) - (pairs[0].expected - p.expected)
  const { able, error } = lesson.stacked
  const unit = 10 ** (-pairs[0].expected / 10)
  const stack = stackOf(able, rows.length, (r, k) => rows[r][k] / unit)
  return {
    stack: stack === null ? [] : [behind(pair(stack.cost * unit, error(stack.shares)))],
    chosen: chosen.map((p) => p.true - p.expected),
    others: pairs.slice(CHOSEN).map((p) => p.true - p.expected),
    first: pairs.slice(0, FIRST).map(behind),
    later: pairs.slice(FIRST, LATER).map(behind),
  }
}
