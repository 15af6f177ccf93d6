import { describe, expect, test } from 'vitest'
import { stretches } from '../../../src/search/borrow/stretches.js'

const at = (values: readonly number[], first = 1001) => values.map((_, i) => ({ frame: first + i }))
const cases: { title: string; values: number[]; found: [from: number, to: number][] }[] = [
  {
    title: 'what never rises above the first threshold is nothing',
    values: [0, 0.05, 0.09, 0.05, 0],
    found: [],
  },
  { title: 'a moment lasts until it is nearly gone', values: [0, 0.02, 0.2, 0.02, 0], found: [[1, 3]] },
  { title: 'two frames of quiet do not end it', values: [0, 0.2, 0, 0, 0.15, 0], found: [[1, 4]] },
  {
    title: 'three do',
    values: [0, 0.2, 0, 0, 0, 0.15, 0],
    found: [
      [1, 1],
      [5, 5],
    ],
  },
  {
    title: 'frames on which nothing can be seen do not count as quiet',
    values: [0, 0.2, NaN, NaN, NaN, NaN, 0.15, 0],
    found: [[1, 6]],
  },
  {
    title: 'but not without end',
    values: [0, 0.2, ...new Array(9).fill(NaN), 0.15, 0],
    found: [
      [1, 1],
      [11, 11],
    ],
  },
  {
    title: 'a tail below a share of the peak is cut off',
    values: [0.012, 0.012, 0.012, 0.012, 1, 0.012],
    found: [[4, 4]],
  },
  {
    title: 'what fades away below that share is no stretch of its own, however long and strong',
    values: [0, 0.11, 0.12, 0.15, 0.3, 1, 4, 1, 0.3, 0.15, 0.13, 0.12, 0.11, 0],
    found: [[4, 8]],
  },
  {
    title: 'a faint one beyond a valley is',
    values: [0, 0.11, 0.12, 0.02, 0.015, 0.02, 0.3, 4, 1, 0.3, 0.11, 0],
    found: [
      [1, 3],
      [6, 9],
    ],
  },
  {
    title: 'two tops with a long, deep valley between them are two',
    values: [0, 0.2, 0.4, 0.07, 0.05, 0.07, 0.3, 0.2, 0],
    found: [
      [1, 4],
      [5, 7],
    ],
  },
  {
    title: 'a shallow one, or one as short as a slat, is crossed',
    values: [0, 0.2, 0.4, 0.05, 0.05, 0.3, 0.1, 0.1, 0.1, 0.3, 0],
    found: [[1, 9]],
  },
  { title: 'it may begin and end with the plate', values: [0.3, 0.2], found: [[0, 1]] },
  { title: 'no frames, no moment', values: [], found: [] },
]

describe('hysteresis', () => {
  for (const { title, values, found } of cases) {
    test(title, () => {
      const got = stretches(at(values), Float64Array.from(values), 0.1, 0.01)
      expect(got.map((s) => [s.from, s.to])).toEqual(found)
    })
  }

  test('a gap in the numbers as long as what may be hidden ends a moment', () => {
    const frames = [1001, 1002, 1012, 1013].map((frame) => ({ frame }))
    expect(stretches(frames, Float64Array.of(0.2, 0.2, 0.2, 0.2), 0.1, 0.01)).toHaveLength(2)
  })

  test('played backwards the same stretches come out', () => {
    for (const { values } of cases) {
      const forward = stretches(at(values), Float64Array.from(values), 0.1, 0.01)
      const back = stretches(at(values), Float64Array.from(values).reverse(), 0.1, 0.01)
      const turned = back.map((s) => [values.length - 1 - s.to, values.length - 1 - s.from]).reverse()
      expect(turned).toEqual(forward.map((s) => [s.from, s.to]))
    }
  })
})
