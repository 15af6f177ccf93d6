// Laws, and the straight version: every walk there is, one after the other.
import { describe, expect, test } from 'vitest'
import { toAndFro } from '../../../src/repair/grain/in-a-row.js'
import {
  alongWith,
  changesIn,
  pacedWalk,
  timesWanted,
  timesWantedInAll,
} from '../../../src/repair/grain/paced-walk.js'
import { random } from '../../synthetic.js'

/** Each differs from its neighbour by 1, and from one further off by the square. */
const even = (one: number, other: number) => (one - other) ** 2

describe('frames of a row', () => {
  test('follow each other forwards and backwards where the plate changes as they do, or nothing is known of it', () => {
    const there = Array.from({ length: 12 }, (_, i) => toAndFro(3 + i, 6))
    expect(pacedWalk(Array(11).fill(1), 6, 3, even)).toEqual(there)
    expect(pacedWalk(Array(11).fill(null), 6, 3, even)).toEqual(there)
  })

  test('stay where the plate stands still, and are passed over where it jumps', () => {
    expect(pacedWalk([1, 0, 0, 1, 9, 1], 9, 0, even)).toEqual([0, 1, 1, 1, 2, 5, 6])
  })

  test('begin where their own jumps fall on the plate’s, unless one of them is held', () => {
    const jump = (one: number, other: number) => (one < 4 !== other < 4 ? 9 : 1) * even(one, other)
    const walk = pacedWalk([1, 9, 1, 1], 8, null, jump)
    expect([walk[1] < 4, walk[2] < 4].sort()).toEqual([false, true])
    expect(pacedWalk([1, 9, 1, 1], 8, 0, jump)[0]).toBe(0)
  })

  test('are those of the cheapest walk of all', () => {
    const draw = random(5)
    for (let round = 0; round < 30; round++) {
      const length = 2 + Math.floor(4 * draw())
      const changes = Array.from({ length: length * length }, () => 0.2 + 3 * draw())
      const changeOf = (a: number, b: number) => changes[Math.min(a, b) * length + Math.max(a, b)]
      const wanted = Array.from({ length: 4 }, () => (draw() < 0.2 ? null : draw() < 0.3 ? 0 : 3 * draw()))
      const from = draw() < 0.5 ? null : Math.floor(length * draw())
      const walk = pacedWalk(wanted, length, from, changeOf)
      if (from !== null) expect(walk[0]).toBe(from)
      expect(cost(walk, wanted, length, changeOf)).toBeCloseTo(cheapest(wanted, length, from, changeOf), 9)
    }
  })
})

test('what a row’s frames differ by is told for all that may follow each other, or for none', async () => {
  const told = await changesIn(4, async (one, other) => 10 * one + other)
  expect([told!(1, 3), told!(3, 1)]).toEqual([13, 13])
  expect(await changesIn(4, async (one) => (one === 2 ? null : 1))).toBeNull()
})

test('a walk that changes by a third of what is wanted, but for one step that nothing is known of, is asked for three times as much', () => {
  expect(timesWanted([3, 6, 12, null], [1, 2, 4, 90])).toBeCloseTo(3, 0)
  expect(timesWanted([1, 1, 1, 1], [1, 1, 1, 40])).toBeLessThan(1)
  expect(timesWanted([1, 1, 1, 1], [1, 1, 1, 40])).toBeGreaterThan(0.35)
  expect(timesWantedInAll([1, 1, null, 1], [1, 1, 1, 5])).toBeCloseTo(0.5, 9)
  expect(timesWantedInAll([0, null], [1, 1])).toBeNull()
  expect(timesWanted([null, null], [1, 1])).toBeNull()
  expect(timesWanted([1, 1], [null, null])).toBeNull()
})

describe('what changes in a place', () => {
  const beside = [1, 8, 2, 0, 1, 6, 1]

  test('goes with what changes beside it where both jump together, twice as much or half', () => {
    for (const times of [2, 0.5]) {
      const found = alongWith(
        beside,
        beside.map((v) => times * v),
      )
      expect(found!.times).toBeCloseTo(times, 9)
      expect(found!.isAlong).toBe(true)
    }
  })

  test('does not where it changes evenly, or at other times', () => {
    const even = [1, 1.1, 0.9, 1, 1.05, 1, 0.95]
    expect(alongWith(beside, even)!.isAlong).toBe(false)
    expect(alongWith(beside, [6, 1, 1, 8, 2, 0, 1])!.isAlong).toBe(false)
    expect(alongWith([1, null], [null, 1])).toBeNull()
    expect(alongWith([0, 0], [1, 1])).toBeNull()
  })
})

type ChangeOf = (one: number, other: number) => number

/** Of strides that were taken along the unfolded row. */
function costOf(
  at: number,
  strides: readonly number[],
  wanted: readonly (number | null)[],
  length: number,
  changeOf: ChangeOf,
) {
  const told = wanted.filter((v) => v !== null)
  const still = (0.05 * told.reduce((sum, v) => sum + v, 0)) / Math.max(1, told.length)
  const walk = [toAndFro(at, length)]
  let [cost, place] = [0, at]
  for (const [t, stride] of strides.entries()) {
    const [one, other] = [toAndFro(place, length), toAndFro(place + stride, length)]
    place += stride
    walk.push(other)
    cost += 0.3 * Math.abs(stride - 1)
    const want = wanted[t]
    if (want === null || still === 0) continue
    const change = one === other ? 0 : changeOf(one, other)
    cost += Math.log((change + still) / (want + still)) ** 2
  }
  return { cost, walk }
}

function allWalks(wanted: readonly (number | null)[], length: number, changeOf: ChangeOf) {
  const most = Math.min(6, length - 1)
  let strides: number[][] = [[]]
  for (let t = 0; t < wanted.length; t++)
    strides = strides.flatMap((s) => Array.from({ length: most + 1 }, (_, k) => [...s, k]))
  const starts = Array.from({ length: 2 * length - 2 }, (_, at) => at)
  return starts.flatMap((at) => strides.map((s) => costOf(at, s, wanted, length, changeOf)))
}

function cheapest(
  wanted: readonly (number | null)[],
  length: number,
  from: number | null,
  changeOf: ChangeOf,
): number {
  const walks = allWalks(wanted, length, changeOf).filter(({ walk }) => from === null || walk[0] === from)
  return Math.min(...walks.map(({ cost }) => cost))
}

/** The least that the strides of a walk may have cost. */
function cost(
  walk: readonly number[],
  wanted: readonly (number | null)[],
  length: number,
  changeOf: ChangeOf,
): number {
  const same = allWalks(wanted, length, changeOf).filter((one) => one.walk.every((v, i) => v === walk[i]))
  return Math.min(...same.map((one) => one.cost))
}
