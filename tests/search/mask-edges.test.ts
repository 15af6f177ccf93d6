// A mask's edges and what is told along them. Truth: masks drawn here, means of numbers that can be added up by hand.
import { describe, expect, test } from 'vitest'
import { edgesOf, runMeans } from '../../src/search/mask-edges.js'

const drawn = (rows: readonly string[]) => {
  const w = rows[0].length
  const flat = rows.join('')
  return edgesOf(w, rows.length, (i) => flat[i] === '#')
}

describe('the edges of a mask', () => {
  test('are its outermost pixels on each side, one line after the other', () => {
    const { left, right, upper, lower } = drawn(['......', '..##..', '.###..', '......'])
    expect([...left]).toEqual([8, 13])
    expect([...right]).toEqual([9, 15])
    expect([...upper]).toEqual([13, 8, 9])
    expect([...lower]).toEqual([13, 14, 15])
  })

  test('are none where the picture ends', () => {
    const { left, right, upper, lower } = drawn(['##..', '##..'])
    expect([left.length, right.length, upper.length, lower.length]).toEqual([0, 2, 0, 0])
  })
})

describe('means over eight neighbours', () => {
  test('slide along the edge, and leave out what is not known while half of it is', () => {
    const values = [...Array(8).fill(1), 9, 9]
    expect([...runMeans(values)]).toEqual([1, 2, 3])
    const holed = [...Array(4).fill(Number.NaN), ...Array(4).fill(2), Number.NaN]
    expect([...runMeans(holed)]).toEqual([2, 2])
    expect([...runMeans([...Array(5).fill(Number.NaN), 1, 1, 1])]).toEqual([Number.NaN])
  })

  test('of a shorter edge are one, of none there is none', () => {
    expect([...runMeans([1, 2, 3])]).toEqual([2])
    expect([...runMeans([])]).toEqual([])
  })
})
