// Laws: all of a piece lies within its rows, with room for what filters reach (noise 7 pixels either way), and vectors of four fill them.
import { expect, test } from 'vitest'
import { rowsOfPiece } from '../../../src/repair/hide/piece-rows.js'

const WIDTH = 10
const HEIGHT = 101
const filled = (from: number, to: number) =>
  new Float32Array(WIDTH * HEIGHT).fill(0.5, from * WIDTH, to * WIDTH)

test.each([
  { piece: [40, 50], alpha: [0, HEIGHT], rows: { from: 32, to: 60 } },
  { piece: [41, 49], alpha: [0, HEIGHT], rows: { from: 32, to: 60 } },
  // Where the patch is not laid nobody sees it.
  { piece: [0, HEIGHT], alpha: [40, 50], rows: { from: 32, to: 60 } },
  { piece: [3, 12], alpha: [0, HEIGHT], rows: { from: 0, to: 20 } },
  // Of the last rows there are as many as there are.
  { piece: [90, HEIGHT], alpha: [0, HEIGHT], rows: { from: 80, to: HEIGHT } },
  { piece: [10, 20], alpha: [30, 40], rows: { from: 0, to: 0 } },
])('a piece on rows $piece of a patch on $alpha has rows $rows', ({ piece, alpha, rows }) => {
  const [own, laid] = [filled(piece[0]!, piece[1]!), filled(alpha[0]!, alpha[1]!)]
  expect(rowsOfPiece(own, laid, WIDTH)).toEqual(rows)
  expect(rowsOfPiece(own, laid, WIDTH)).toEqual(rows)
  expect((rows.to === HEIGHT ? rows.from : rows.to - rows.from) % 4).toBe(0)
})

test('a piece of another patch has other rows', () => {
  const piece = filled(0, HEIGHT)
  expect(rowsOfPiece(piece, filled(40, 50), WIDTH)).toEqual({ from: 32, to: 60 })
  expect(rowsOfPiece(piece, filled(60, 61), WIDTH)).toEqual({ from: 52, to: 72 })
})

test('what is no piece is all of its patch', () => {
  expect(rowsOfPiece(null, filled(41, 49), WIDTH)).toEqual({ from: 32, to: 60 })
  expect(rowsOfPiece(null, filled(0, 0), WIDTH)).toEqual({ from: 0, to: 0 })
})
