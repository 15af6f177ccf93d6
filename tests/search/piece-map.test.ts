import { describe, expect, test } from 'vitest'
import { packPieces, pieceMapMisfit, unpackPieces } from '../../src/search/piece-map.js'
import { type PieceMap, pieceMapSchema } from '../../src/search/piece-map-schema.js'
import { randomFrom } from '../random.js'

const MAP: PieceMap = { box: [10, 20, 6, 3], rows: ['0:6', '0:2 1:4', '2:1 1:5'] }

describe('a map of pieces', () => {
  test('is the same when it was packed and unpacked', () => {
    const random = randomFrom('map')
    for (const [w, h] of [
      [1, 1],
      [40, 7],
      [300, 2],
    ]) {
      let piece = 0
      const labels = Uint8Array.from({ length: w * h }, () => {
        if (random() < 0.2) piece = Math.floor(5 * random())
        return piece
      })
      const map = packPieces(labels, { x: 3, y: -4, w, h })
      expect(unpackPieces(map)).toEqual(labels)
      expect(pieceMapSchema.parse(JSON.parse(JSON.stringify(map)))).toEqual(map)
      expect(pieceMapMisfit(map, 5)).toBeNull()
    }
  })

  test('reads row by row, left to right', () => {
    expect([...unpackPieces(MAP)]).toEqual([0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 1, 1, 1, 1, 1])
    expect(packPieces(unpackPieces(MAP), { x: 10, y: 20, w: 6, h: 3 })).toEqual(MAP)
  })

  test.each([
    { rows: ['0:6', '0:6'], says: "rows must be one for each of the box's 3 rows, and are 2" },
    { rows: ['0:6', '0:2 1:3', '0:6'], says: 'rows[1] must be 6 pixels long, and is 5' },
    { rows: ['0:6', '0:6', '0:2 3:4'], says: 'rows[2] must name pieces from 0 to 2, and names 3' },
  ])('edited by hand to $rows says what is wrong', ({ rows, says }) => {
    expect(pieceMapMisfit({ ...MAP, rows }, 3)).toBe(says)
  })

  test.each([['1x6'], [''], ['0:2  1:4'], ['-1:6']])('with the row "%s" is none', (row) => {
    expect(pieceMapSchema.safeParse({ ...MAP, rows: [row] }).success).toBe(false)
  })
})
