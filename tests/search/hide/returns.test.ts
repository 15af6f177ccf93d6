import { describe, expect, test } from 'vitest'
import { returns } from '../../../src/search/hide/pretended.js'

/** dB that runs reach, by their time offset. */
type Runs = Readonly<Record<number, number>>

/** A pretended target whose best held donor reaches 32 dB, and what its runs reach. */
function lesson(runs: Runs) {
  const error = (db: number) => (-db / 10) * Math.LN10
  return {
    errors: Float64Array.of(error(30), error(32), error(28)),
    runs: Object.entries(runs).map(([offset, db]) => {
      return { timeOffset: Number(offset), places: [0], error: error(db) }
    }),
  }
}

const told = (...all: readonly Runs[]) => returns(all.map(lesson))

describe('a plate comes back to what it showed', () => {
  test('where one time offset is nearer than what is held on most pretended targets that have it', () => {
    expect(told({ 7: 36, 8: 29 }, { 7: 38 }, { 8: 29, 7: 37 }, { 7: 36 }, { 7: 31 })).toBe(true)
    expect(told({ 7: 36 }, { 7: 38 }, { 7: 37 }, { 7: 36 }, { 9: 20 }, { 9: 20 })).toBe(true)
  })

  test('not where another one is on each of them, as happens by chance', () => {
    expect(told({ 7: 36, 8: 29 }, { 7: 29, 8: 36 }, { 7: 37, 8: 30 }, { 7: 30, 8: 39 })).toBe(false)
  })

  test('not where it is so by less than 3 dB, nor on three of them alone', () => {
    expect(told({ 7: 34 }, { 7: 34.9 }, { 7: 34 }, { 7: 34 })).toBe(false)
    expect(told({ 7: 40 }, { 7: 40 }, { 7: 40 })).toBe(false)
  })
})
