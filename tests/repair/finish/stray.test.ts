// Law: what the sides of a ring stray from each other by, as it was planted, is what a place like them strays from the ring by.
import { describe, expect, test } from 'vitest'
import { limitsWith } from '../../../src/repair/finish/finish.js'
import { readingOf } from '../../../src/repair/finish/own-frames.js'
import { CellSums } from '../../../src/repair/finish/pair.js'
import {
  OVER_TIME,
  RING_SIDES,
  type StrayPair,
  sidesRound,
  straysOf,
} from '../../../src/repair/finish/stray.js'
import { normal } from '../../synthetic.js'

/** @param now by how much a side's standard deviation strays in a pair, natural logarithms @param always the same in all pairs */
function planted({ pairs = 400, now = 0, always = 0, scale = 1 }): StrayPair[] {
  const random = normal(5)
  const lasting = RING_SIDES.map(() => always * random())
  return Array.from({ length: pairs }, () => {
    const sides = RING_SIDES.map((s) => scale * Math.exp(2 * (lasting[s] + now * random())))
    const changed = (v: number) => ({ flicker: v, noise: v })
    return { ring: changed(scale), sides: sides.map(changed) }
  })
}

describe('how far a plate strays where it has no patch', () => {
  test('of one frame is what its sides stray by, with as much of the ring as a side is of it', () => {
    for (const now of [0.05, 0.3])
      expect(straysOf(planted({ now }), null)!.frame.flicker / (now * Math.sqrt(1 + 1 / 4))).toBeCloseTo(1, 1)
  })

  test('of all frames goes with the root of their number, but for what lasts', () => {
    const few = straysOf(planted({ pairs: 9, now: 0.2 }), null)!
    expect(few.all.noise).toBeLessThan(few.frame.noise / 2)
    const lasting = straysOf(planted({ always: 0.4 }), null)!
    expect(lasting.all.noise).toBeCloseTo(lasting.frame.noise, 6)
  })

  test('does not hang on how much grain there is', () => {
    const [one, other] = [planted({ now: 0.2 }), planted({ now: 0.2, scale: 7 })]
    expect(straysOf(other, null)!.frame.noise).toBeCloseTo(straysOf(one, null)!.frame.noise, 9)
  })

  test('is told by the plate’s own frames where they stray less than the sides, which differ in their surface', () => {
    const own = { flicker: 0.2, noise: 0.1 }
    const { frame, all } = straysOf(planted({ always: 1 }), own)!
    expect(frame.flicker).toBeCloseTo(Math.hypot(0.2, OVER_TIME), 9)
    expect(all.noise).toBeCloseTo(Math.hypot(0.1 / 20, OVER_TIME), 9)
    expect(straysOf(planted({ now: 0.01 }), own)!.frame.flicker).toBeLessThan(0.02)
  })

  test('is large and no infinity where a codec repeats a side', () => {
    const still: StrayPair[] = planted({ pairs: 3 }).map((pair) => ({
      ...pair,
      sides: [{ flicker: 0, noise: 0 }, ...pair.sides.slice(1)],
    }))
    const { frame } = straysOf(still, null)!
    expect(frame.noise).toBeGreaterThan(1)
    expect(frame.noise).toBeLessThan(3)
  })

  test('is not told by one side alone, as beside the frame’s corner, nor by no pair', () => {
    const cornered = planted({ now: 0.2 }).map((pair) => ({
      ...pair,
      sides: [pair.sides[0], null, null, null],
    }))
    expect(straysOf(cornered, null)).toBeNull()
    expect(straysOf([], null)).toBeNull()
  })
})

test('limits are wider by two standard deviations, those of a step at the border never', () => {
  expect(limitsWith('noise', 0)).toEqual([0.9, 1.1])
  const [least, most] = limitsWith('flicker', 0.3)
  expect(least).toBeCloseTo(0.5 / Math.exp(0.6), 9)
  expect(most).toBeCloseTo(1.1 * Math.exp(0.6), 9)
})

test('pairs of the plate’s own frames stray by their standard deviation', () => {
  const logs = [-0.1, 0.05, 0.1, -0.05, 0.02, 0]
  const side = (v: number) => ({ noise: [v, v, v] as const, flicker: v, error: 0.01, cells: 50 })
  const pairs = logs.map((l) => ({
    ...{ inside: side(Math.exp(2 * l)), ring: side(1), sides: [], ownStray: null, spectra: null },
  }))
  const mean = logs.reduce((a, b) => a + b, 0) / logs.length
  const wanted = Math.sqrt(logs.reduce((sum, l) => sum + (l - mean) ** 2, 0) / (logs.length - 1))
  expect(readingOf(pairs)!.stray.noise).toBeCloseTo(wanted, 9)
})

test('a ring’s cells lie left, right, above or below of the patch, by the diagonals of its box', () => {
  const inside = new CellSums(7 * 7)
  for (const k of [16, 17, 18, 23, 24, 25, 30, 31, 32]) inside.count[k] = 64
  const marks = sidesRound(inside, 7)
  const at = (x: number, y: number) => marks[7 * y + x]
  expect([at(0, 3), at(6, 3), at(3, 0), at(3, 6)]).toEqual([0, 1, 2, 3])
  expect([at(0, 2), at(2, 0), at(6, 4), at(4, 6)]).toEqual([0, 2, 1, 3])
})
