// What a donor's region will differ by, on regions whose drift was chosen.
import { describe, expect, test } from 'vitest'
import { expectedSquare, likelyRegion, measureDrift, type RegionSample } from '../../src/match/expect.js'

const PIXELS = Int32Array.from({ length: 40 }, (_, i) => i)

/** A flat region that is `value` stops bright on a frame, and shot `exposure` stops too dark. */
const sample = (frame: number, value: number, exposure = 0, plate = 0): RegionSample => ({
  plate,
  frame,
  aligned: new Float32Array(PIXELS.length).fill(value - exposure),
  exposure,
})

describe('drift', () => {
  test('of a region that brightens evenly grows with the square of the gap', () => {
    const rate = 0.01
    const drift = measureDrift(
      Array.from({ length: 120 }, (_, i) => sample(1001 + i, rate * i)),
      PIXELS,
    )
    // Pairs lie at the lower end of their group, so the groups' own gaps are met exactly.
    for (const gap of [1, 3, 6, 12, 24]) expect(drift(gap)).toBeCloseTo((rate * gap) ** 2, 6)
    expect(drift(48)).toBeGreaterThan(drift(24))
  })

  test('of a still region is nothing, whatever the exposure of its frames', () => {
    const drift = measureDrift(
      Array.from({ length: 60 }, (_, i) => sample(1001 + i, 2, 0.3 * Math.sin(i))),
      PIXELS,
    )
    for (const gap of [1, 10, 1000]) expect(drift(gap)).toBeCloseTo(0, 10)
  })

  test('never falls with the gap, and beyond the widest gap stays', () => {
    // It swings, so that frames far apart may be alike again.
    const drift = measureDrift(
      Array.from({ length: 120 }, (_, i) => sample(1001 + i, Math.sin(i / 8))),
      PIXELS,
    )
    const found = [1, 2, 4, 8, 16, 32, 64, 96, 500, 5000].map(drift)
    expect(found).toEqual([...found].sort((a, b) => a - b))
    expect(drift(5000)).toBe(drift(500))
  })

  test('of a single frame, or of two plates with one each, is not known and taken as nothing', () => {
    expect(measureDrift([sample(1001, 1)], PIXELS)(10)).toBe(0)
    expect(measureDrift([sample(1001, 1), sample(1001, 3, 0, 1)], PIXELS)(10)).toBe(0)
  })
})

describe('what the region most likely shows', () => {
  const level = new Float32Array(PIXELS.length).fill(9)

  test('is the clean plate where no donor is clean', () => {
    expect(likelyRegion([], 0, 1010, level, PIXELS)).toEqual(level)
  })

  test('is the donor in its exposure where there is one', () => {
    const [value] = likelyRegion([sample(1020, 2, 0.5)], 0, 1010, level, PIXELS)
    expect(value).toBeCloseTo(2, 6)
  })

  test('leans to the nearer of two donors by their distance in time', () => {
    // Ten and 26 frames away: the second weighs exp(-16 / 16) of the first.
    const [value] = likelyRegion([sample(1020, 0), sample(1036, 1)], 0, 1010, level, PIXELS)
    expect(value).toBeCloseTo(Math.exp(-1) / (1 + Math.exp(-1)), 6)
  })

  test('hears the target’s own plate before another', () => {
    const [value] = likelyRegion([sample(1010, 5, 0, 1), sample(1090, 1)], 0, 1010, level, PIXELS)
    expect(value).toBeCloseTo(1, 6)
  })
})

test('an expected error is a third drift, a half surround and a sixth of the donor’s own distance', () => {
  expect(expectedSquare(6, 0, 0)).toBeCloseTo(1, 12)
  expect(expectedSquare(0, 6, 0)).toBeCloseTo(2, 12)
  expect(expectedSquare(0, 0, 6)).toBeCloseTo(3, 12)
})
