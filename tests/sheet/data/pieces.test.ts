import { describe, expect, test } from 'vitest'
import { packPieces } from '../../../src/search/piece-map.js'
import type { Candidate, FrameMatch } from '../../../src/search/result.js'
import { numbered, type PieceArea, pieceAreas } from '../../../src/sheet/data/pieces.js'

const RECT = { x: 100, y: 50, w: 40, h: 20 }
/** A mask of 20 x 10 in the middle; its left 12 columns are lent by frame 1011, the rest by 1078. */
const BOX = { x: 110, y: 55, w: 20, h: 10 }
const labels = Uint8Array.from({ length: 200 }, (_, i) => (i % 20 < 12 ? 0 : 1))
const mask = Float32Array.from({ length: 800 }, (_, i) => {
  const [x, y] = [i % 40, Math.floor(i / 40)]
  return x >= 10 && x < 30 && y >= 5 && y < 15 ? 1 : 0
})
const piece = (frame: number) => ({ plate: 0, frame, dx: 0, dy: 0, gain: [1, 1, 1], share: 0.5, stops: 0 })
const candidate = { map: packPieces(labels, BOX) } as unknown as Candidate
const match = { pieces: [piece(1011), piece(1078)], map: { dx: 0, dy: 0 } } as unknown as FrameMatch

describe('a mosaic of two frames', () => {
  const areas = pieceAreas(candidate, match, RECT, mask, 1)

  test('names who lends where, the larger part first, with its share of the mask', () => {
    expect(areas.map(({ frame, share }) => [frame, share])).toEqual([
      [1011, 0.6],
      [1078, 0.4],
    ])
  })

  test('each number stands in its own part, away from the border', () => {
    const [left, right] = areas
    expect(left.x).toBeGreaterThan(13)
    expect(left.x).toBeLessThan(19)
    expect(right.x).toBeGreaterThan(24)
    expect(right.x).toBeLessThan(28)
    for (const { y } of areas) expect(Math.abs(y - 10)).toBeLessThan(3)
  })

  test('its pieces cover the mask, a bar for every row of each', () => {
    for (const { fill, share } of areas) {
      const bars = [...fill.matchAll(/h(\d+)v1/g)].map((m) => Number(m[1]))
      expect(bars).toHaveLength(10)
      expect(bars.reduce((a, b) => a + b, 0)).toBe(200 * share)
    }
  })
})

test('what is no mosaic has no pieces', () => {
  expect(pieceAreas({} as Candidate, match, RECT, mask, 1)).toEqual([])
})

test('of numbers that would lie over each other the larger piece’s is written', () => {
  const at = (frame: number, x: number, y: number) => ({ frame, x, y }) as PieceArea
  const areas = [at(1011, 50, 20), at(1078, 70, 20), at(1040, 50, 29), at(1093, 90, 20), at(1012, 70, 30)]
  const shown = numbered(areas, 40, 10).map(({ frame }) => frame)
  expect(shown).toEqual([1011, 1093, 1012])
})
