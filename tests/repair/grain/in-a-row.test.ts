// Laws: frames in a row follow each other, and walking through them to and fro never leaves a neighbour.
import { describe, expect, test } from 'vitest'
import { inARow, MIN_IN_ROW, toAndFro } from '../../../src/repair/grain/in-a-row.js'
import type { StackShare } from '../../../src/search/result.js'

const share = (frame: number, plate = 0, weight = 0.1): StackShare => ({
  plate,
  frame,
  dx: 0,
  dy: 0,
  gain: [1, 1, 1],
  weight,
})
const of = (shares: readonly StackShare[] | null) => shares?.map((s) => s.frame)
const SOME = [1040, 1012, 1010, 1011, 1041, 1042, 1013, 1043, 1044, 1099].map((f) => share(f))

describe('donors in a row', () => {
  test('are the longest that follow each other, in their order', () => {
    expect(of(inARow(SOME, false, null))).toEqual([1040, 1041, 1042, 1043, 1044])
  })

  test('are those with a frame that is asked for, be they fewer', () => {
    expect(of(inARow(SOME, false, share(1011)))).toEqual([1010, 1011, 1012, 1013])
    expect(inARow(SOME, false, share(1099))).toBeNull()
    expect(inARow(SOME, false, share(1011, 1))).toBeNull()
  })

  test('are all of a plate where frames have nothing in common', () => {
    expect(of(inARow(SOME, true, null))).toHaveLength(SOME.length)
    expect(of(inARow([share(1, 1), ...SOME], true, null))).not.toContain(1)
  })

  test('of two rows of one length are the one that lends more', () => {
    const one = [1001, 1002, 1003, 1004].map((f) => share(f, 0, 0.05))
    const other = [1011, 1012, 1013, 1014].map((f) => share(f, 0, 0.2))
    expect(of(inARow([...one, ...other], false, null))).toEqual([1011, 1012, 1013, 1014])
  })

  test('are none where fewer than four follow each other', () => {
    expect(MIN_IN_ROW).toBe(4)
    expect(
      inARow(
        [1001, 1002, 1003, 1005, 1006, 1007].map((f) => share(f)),
        false,
        null,
      ),
    ).toBeNull()
    expect(inARow([], true, null)).toBeNull()
  })

  test('are walked through forwards and backwards, each step to a neighbour', () => {
    const walk = Array.from({ length: 40 }, (_, i) => toAndFro(i, 5))
    expect(walk.slice(0, 9)).toEqual([0, 1, 2, 3, 4, 3, 2, 1, 0])
    for (let i = 1; i < walk.length; i++) expect(Math.abs(walk[i] - walk[i - 1])).toBe(1)
  })
})
