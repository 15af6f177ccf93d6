import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { INVISIBLE_DB } from '../../../src/match/thresholds.js'
import { ErrorModel, MIN_LESSONS } from '../../../src/search/hide/error-model.js'
import { DIFFERENCES, FEATURES } from '../../../src/search/hide/pair-features.js'
import type { Lesson } from '../../../src/search/hide/taught-error.js'
import { normal, randomFrom } from '../../random.js'

const random = randomFrom('lessons')
const workspace = new Workspace()
const DONORS = 60
/** Chosen truth: on this plate only the surround next to the mask tells the error, and it tells it one to one. */
const SPREAD = 0.2
/** Mean square by which a lesson's region lies apart before it and after it. */
const APART = 1e-4

/** None of the donors may be averaged. */
const NONE = { able: [], error: () => 0 }

/** A pretended target whose best donors differ by `db` from it. @param spread of what nothing tells of, log */
function lesson(db: number, spread = SPREAD): Lesson {
  const features = new Float32Array(DONORS * FEATURES)
  const near = Float64Array.from({ length: DONORS }, () => 1.5 * random())
  const best = new Float32Array(DIFFERENCES).fill(Math.log(10 ** (-db / 20)))
  for (let k = 0; k < DONORS; k++) {
    for (let f = 1; f < DIFFERENCES; f++) features[k * FEATURES + f] = 1.5 * random()
    features[k * FEATURES] = near[k]
    features[k * FEATURES + 6] = Math.log(1 + 100 * random())
  }
  const errors = near.map((v) => Math.log(10 ** (-db / 10)) + 2 * v + spread * normal(random))
  return { rows: [{ features, best }], even: DONORS, errors, each: [], runs: [], apart: APART, stacked: NONE }
}

const some = (n: number) => Array.from({ length: n }, () => lesson(36 + 6 * random()))
const db = (model: ErrorModel, { rows }: Lesson, k: number) => -10 * Math.log10(model.meanSquares(rows[0])[k])

describe('a plate on which only the near surround tells the error', () => {
  const model = new ErrorModel(workspace, some(60))

  test('teaches that: its donors come in the order of their true errors', () => {
    const fresh = lesson(40)
    const expected = Array.from(fresh.errors, (_, k) => db(model, fresh, k))
    const truth = Array.from(fresh.errors, (e) => (-10 * e) / Math.LN10)
    const ranks = (v: readonly number[]) => v.map((x) => v.filter((y) => y < x).length)
    const [a, b] = [ranks(expected), ranks(truth)]
    const square = a.reduce((sum, r, i) => sum + (r - b[i]) ** 2, 0)
    // Spearman's rank correlation, 1904.
    expect(1 - (6 * square) / (DONORS * (DONORS ** 2 - 1))).toBeGreaterThan(0.85)
  })

  test('intervals hold about nine in ten of the true errors of its first choices', () => {
    let held = 0
    const trials = 200
    for (let i = 0; i < trials; i++) {
      const fresh = lesson(36 + 6 * random())
      const expected = Array.from(fresh.errors, (_, k) => db(model, fresh, k))
      const first = expected.indexOf(Math.max(...expected))
      const { low, high } = model.expected(expected[first], expected[first])
      const truth = (-10 * fresh.errors[first]) / Math.LN10
      if (truth >= low && truth <= high) held++
    }
    // At least what is promised, less two standard errors; they may be somewhat wide, not twice.
    expect(held / trials).toBeGreaterThan(0.86)
  })

  test('a donor expected to be worse may fall short by so much more', () => {
    const near = model.expected(40, 40)
    const far = model.expected(37, 40)
    expect(far.shortfall - near.shortfall).toBeCloseTo(3, 6)
  })

  test('nothing falls short where even the worst that is likely is more than an eye can tell', () => {
    expect(model.expected(INVISIBLE_DB + 30, INVISIBLE_DB + 33).shortfall).toBe(0)
  })

  test('a step at the target that no lesson tells of counts, one that they tell of does not', () => {
    expect(model.unsettled(null)).toBe(0)
    expect(model.unsettled(APART)).toBe(0)
    const step = model.unsettled(11 * APART)
    expect(step).toBeCloseTo(10 * APART, 12)
    // Nobody knows whether the target shows the side that the best donor shows or the other one: 10 dB of it may be lost.
    const best = -10 * Math.log10(APART / 2 + step / 2)
    const more =
      model.expected(best, best, { unsettled: step }).shortfall - model.expected(best, best).shortfall
    expect(more).toBeCloseTo(10 * Math.log10((APART / 2 + step) / (APART / 2)), 6)
  })
})

describe('a plate on which most pretended targets are calm, and the first choice of the others was the wrong side', () => {
  // Chosen truth: what the first donors of a restless lesson are off by besides, dB.
  const WRONG = 2.5
  const restless = (): Lesson => {
    const calm = lesson(38)
    // Nothing that is known of a pair tells of it: which donors it meets is drawn.
    const errors = calm.errors.map((e) => e + (random() < 0.5 ? (WRONG / 10) * Math.LN10 : 0))
    return { ...calm, errors, apart: 100 * APART }
  }
  const mixed = (calm: number, others: number) =>
    new ErrorModel(
      workspace,
      Array.from({ length: calm + others }, (_, i) =>
        i % ((calm + others) / others) < 1 ? restless() : lesson(38),
      ),
    )

  test('a calm target may fall short by as little as calm lessons did, a restless one by what the restless did', () => {
    const model = mixed(60, 20)
    const calm = model.behind(38, APART).first
    const wild = model.behind(38, 100 * APART).first
    expect(wild).toBeGreaterThan(WRONG - 0.5)
    expect(wild).toBeGreaterThanOrEqual(calm)
  })

  test('where hardly any lesson is as restless as the target, it may show one side and what was chosen the other', () => {
    // Law: off by all that lies between both sides, besides what is expected of the best.
    const best = 38
    const all = 10 * Math.log10(1 + (1000 * APART) / 10 ** (-best / 10))
    expect(new ErrorModel(workspace, some(60)).behind(best, 1000 * APART).first).toBeCloseTo(all, 1)
    expect(new ErrorModel(workspace, some(60)).behind(best, APART).first).toBeLessThan(all / 4)
  })
})

describe('a plate on which single donors may be far off, and means of several are not', () => {
  // Chosen truth: a mean has so large a share of what its donors would be off by without chance, give or take half a decibel.
  const SHARE = 0.65
  const SINGLE = 0.3
  const MEAN = 0.115
  const averaged = (): Lesson => {
    const one = lesson(34 + 6 * random(), SINGLE)
    const [{ features, best }] = one.rows
    const level = Math.exp(2 * best[0])
    const chance = MEAN * normal(random)
    return {
      ...one,
      stacked: {
        able: Array.from({ length: DONORS }, (_, k) => k),
        error: ([shares]) =>
          chance +
          Math.log(
            SHARE *
              level *
              shares.reduce((sum, s) => sum + s.weight * Math.exp(2 * features[s.column * FEATURES]), 0),
          ),
      },
    }
  }
  const model = new ErrorModel(workspace, Array.from({ length: 60 }, averaged))

  test('a mean falls short by what pretended ones did, a single donor by what those did', () => {
    const { first, stack } = model.behind(36, null)
    expect(stack).toBeLessThan(first - 0.5)
    expect(model.expected(36, 36, { ofDonors: 35 }).shortfall).toBeCloseTo(stack, 9)
    expect(model.expected(36, 36).shortfall).toBeCloseTo(first, 9)
  })

  test('a mean is not further behind than its donors may be, though pretended ones were: squares are convex', () => {
    const behind = { ...model.behind(36, null), first: 1.5, later: 3, stack: 4 }
    const short = (ofDonors: number, stack = 4) =>
      model.expected(36.2, 36, { behind: { ...behind, stack }, ofDonors }).shortfall
    expect(short(35.8)).toBeCloseTo(1.5 - 0.2, 9)
    // Its donors are not among the first choices.
    expect(short(35.2)).toBeCloseTo(3 - 0.2, 9)
    expect(short(35.2, 1)).toBeCloseTo(1 - 0.2, 9)
  })

  test('where too few of them have donors to be averaged the worst that the prior may lose counts in part', () => {
    const few = Array.from({ length: 60 }, (_, i) => (i < 5 ? averaged() : { ...averaged(), stacked: NONE }))
    expect(new ErrorModel(workspace, few).behind(36, null).stack).toBeGreaterThan(
      model.behind(36, null).stack + 0.3,
    )
  })
})

test('where first choices of every lesson came to less than what was foretold, less is expected', () => {
  // Chosen truth: each stretch of the plate has donors that look far nearer than all others in a way that no other stretch knows, and
  // are not. Whatever teaches, the first choices of the rest come to less.
  const STRETCHES = DIFFERENCES
  const LOOKALIKES = 10
  const lessons = Array.from({ length: 60 }, (_, i) => {
    const one = lesson(40)
    const { features } = one.rows[0]
    const way = Math.floor((i * STRETCHES) / 60)
    for (let k = 0; k < LOOKALIKES; k++) features[k * FEATURES + way] = -30
    return one
  })
  const { db: expected, low, high } = new ErrorModel(workspace, lessons).expected(40, 40)
  expect(high).toBeLessThan(40)
  expect(expected).toBe(high)
  expect(expected).toBeGreaterThan(low)
})

test('too few lessons are none: the prior stands alone, and says that it does', () => {
  expect(new ErrorModel(workspace, some(MIN_LESSONS - 1)).taught).toBe(false)
  expect(new ErrorModel(workspace, some(MIN_LESSONS)).taught).toBe(true)
  const { low, high, shortfall } = new ErrorModel(workspace, []).expected(40, 40)
  expect([low, high].map((v) => v < 40)).toEqual([true, false])
  expect(shortfall).toBeGreaterThan(3)
})

test('what is expected on a plate that taught nothing may be off by what it was on made scenes that taught nothing', () => {
  // Measured, not by this code: on six made scenes without lessons, none of those that set it, what was expected lay 15 dB
  // above the truth at the fifth percentile of their rows, and 14 dB below it at the ninety-fifth.
  const { low, high } = new ErrorModel(workspace, []).expected(30, 30)
  expect(low).toBeLessThan(30 - 14.8)
  expect(high).toBeGreaterThanOrEqual(30 + 14)
})
