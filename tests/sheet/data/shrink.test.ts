import { describe, expect, test } from 'vitest'
import { shrinkFactor, shrunk } from '../../../src/sheet/data/shrink.js'
import { quaysidePictures, quaysideResult } from '../quayside.js'

describe('a region too large to carry pixel by pixel', () => {
  test('is one only beyond a million pixels or so', () => {
    expect(shrinkFactor(1000, 1000)).toBe(1)
    expect(shrinkFactor(1920, 1080)).toBe(2)
    expect(shrinkFactor(4096, 2160)).toBe(3)
  })

  test('keeps its light: the mean of every picture stays, and every pixel is the mean of its own', async () => {
    const result = quaysideResult({ candidates: 1, frames: 1, region: 40 })
    const [candidate] = result.candidates
    const source = quaysidePictures(result)
    const full = await source.pictures(candidate, candidate.frames[0])
    const half = await shrunk(source, 2).pictures(candidate, candidate.frames[0])
    expect([half.rect.w, half.rect.h]).toEqual([full.rect.w / 2, full.rect.h / 2])
    for (const name of ['target', 'donor', 'patch', 'repaired'] as const) {
      const f = full[name]
      const four = [f.get(6, 4, 1), f.get(6, 5, 1), f.get(7, 4, 1), f.get(7, 5, 1)]
      expect(half[name].get(3, 2, 1)).toBeCloseTo(four.reduce((a, b) => a + b) / 4, 6)
    }
    expect(mean(half.alpha)).toBeCloseTo(mean(full.alpha), 6)
    const alone = await shrunk(source, 2).donor(candidate, candidate.frames[0])
    expect(alone.rect).toEqual(half.rect)
    expect(alone.donor.data).toEqual(half.donor.data)
  })

  test('of an odd size loses its last pixels rather than inventing some', async () => {
    const result = quaysideResult({ candidates: 1, frames: 1, region: 41 })
    const [candidate] = result.candidates
    const { rect, target } = await shrunk(quaysidePictures(result), 2).pictures(
      candidate,
      candidate.frames[0],
    )
    expect(target.shape).toEqual([rect.h, rect.w, 3])
    expect(rect.w).toBe(52)
  })
})

function mean(values: Float32Array): number {
  return values.reduce((a, b) => a + b, 0) / values.length
}
