import { describe, expect, test } from 'vitest'
import { outlinePath } from '../../../src/sheet/data/outline.js'

/** The pixels inside an outline, found by an even-odd count of the upright strokes left of each centre. */
function insideOf(path: string, width: number, height: number): number[] {
  const upright = [...path.matchAll(/M(\d+) (\d+)V(\d+)/g)].map((m) => m.slice(1).map(Number))
  return Array.from({ length: width * height }, (_, i) => {
    const x = i % width
    const y = Math.floor(i / width)
    return upright.filter(([sx, from, to]) => sx <= x && from <= y && to > y).length % 2
  })
}

describe('the outline of a mask', () => {
  test('runs along the borders of the pixels from one half up', () => {
    const mask = Float32Array.from([0, 0, 0, 0, 0, 0.5, 1, 0, 0, 0.49, 1, 0, 0, 0, 0, 0])
    expect(outlinePath(mask, 4, 4)).toBe('M1 1H3M1 2H2M2 3H3M1 1V2M2 2V3M3 1V3')
  })

  test('encloses just the mask, holes and all', () => {
    const width = 13
    const height = 9
    const mask = Float32Array.from({ length: width * height }, (_, i) => {
      const x = i % width
      const y = Math.floor(i / width)
      const away = Math.hypot(x - 6, y - 4)
      return away < 4 && away > 1.5 ? 1 : 0
    })
    expect(insideOf(outlinePath(mask, width, height), width, height)).toEqual([...mask])
  })

  test('has no stroke where the mask runs out of the picture', () => {
    expect(outlinePath(new Float32Array(12).fill(1), 4, 3)).toBe('')
  })

  test('of an empty mask is empty', () => {
    expect(outlinePath(new Float32Array(12), 4, 3)).toBe('')
  })
})
