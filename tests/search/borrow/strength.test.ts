// How strong a change is, and on which frame it peaks. Planted truth: tiles whose change is a formula.
import { describe, expect, test } from 'vitest'
import { COVERED, LIT, STEADY, UNSEEN } from '../../../src/match/light-change.js'
import type { FrameChange } from '../../../src/search/borrow/changes.js'
import { depthOf, filledStrength, plateauMiddle } from '../../../src/search/borrow/strength.js'
import { evenGrid, evenReference } from './even-reference.js'

const TILES = 20
const grid = evenGrid(TILES)
const { weight } = grid
const none = new Float32Array(TILES)
const reference = evenReference(TILES)

/** One frame; tiles are lit where their change is not 0, unless `kindOf` says otherwise. */
function frameOf(
  frame: number,
  stops: (tile: number) => number,
  kindOf: (tile: number) => number | undefined = () => undefined,
): FrameChange {
  const change = Float32Array.from({ length: TILES }, (_, tile) => stops(tile))
  const kind = Uint8Array.from(change, (v, tile) => kindOf(tile) ?? (v === 0 ? STEADY : LIT))
  const tiles = { pixels: weight, change, residual: none, cross: none }
  return { frame, tiles, kind, darker: 0, brighter: 0, covered: 0, visible: 1, unseen: 0 }
}

describe('the strength of a change in front of which somebody passes', () => {
  const hidden = (frames: readonly number[], at = 1001) =>
    Array.from({ length: 9 }, (_, i) =>
      frameOf(
        at + i,
        (tile) => (tile < 10 ? -0.1 * (i + 1) : 0),
        (tile) => (frames.includes(i) && tile < 5 ? COVERED : undefined),
      ),
    )
  const strength = (frames: readonly FrameChange[], known = new Float64Array(9)) =>
    filledStrength(frames, known, { from: 0, to: 8 }, 'darker', reference, grid)

  test('is what it would be without them: between before and after, in proportion of time', () => {
    for (const [i, v] of strength(hidden([3, 4, 5])).entries()) expect(v).toBeCloseTo((0.1 * (i + 1)) / 2, 6)
  })

  test('holds the nearest that was seen where it begins or ends hidden', () => {
    const filled = strength(hidden([0, 1, 7, 8]))
    // Of ten lit tiles five are seen as they are, five as they are on the third frame.
    expect(filled[0]).toBeCloseTo((5 * 0.1 + 5 * 0.3) / 20, 6)
    expect(filled[8]).toBeCloseTo((5 * 0.9 + 5 * 0.7) / 20, 6)
  })

  test('says nothing of a frame on which too little is seen', () => {
    const known = new Float64Array(9)
    known[4] = Number.NaN
    const filled = strength(hidden([]), known)
    expect(filled[4]).toBeNaN()
    expect(filled[5]).toBeCloseTo(0.3, 6)
  })

  test('counts no change the other way', () => {
    const frames = Array.from({ length: 9 }, (_, i) => frameOf(i, () => 0.5))
    expect([...strength(frames)]).toEqual(new Array(9).fill(0))
  })
})

describe('the peak', () => {
  const peak = (values: readonly number[]) => plateauMiddle(Float64Array.from(values), 0, values.length - 1)
  const cases: { title: string; values: number[]; at: number }[] = [
    { title: 'is the strongest frame', values: [0, 0.2, 0.5, 1, 0.5, 0.2, 0], at: 3 },
    { title: 'is the middle of a plateau', values: [0, 0.5, 1, 1, 1, 1, 1, 0.5, 0], at: 4 },
    { title: 'is not one frame of grain', values: [0, 0.2, 0, 0, 0.15, 0.16, 0.15, 0], at: 5 },
    { title: 'is a frame that shows something', values: [0, 0.9, 1, NaN, 1, 0.9, 0], at: 2 },
  ]
  test.each(cases)('$title', ({ values, at }) => expect(peak(values)).toBe(at))

  test('lies within the stretch that is asked about', () => {
    expect(plateauMiddle(Float64Array.of(9, 9, 1, 2, 1, 9), 2, 4)).toBe(3)
  })
})

describe('the depth of a change', () => {
  const lit = (kind: number) => kind === LIT

  test('is the median of the deepest tiles, and covers its share of what is seen', () => {
    // Twelve lit tiles of 0.1 to 1.2 stops, four steady ones, four that nobody sees: of the lit ones three are deepest.
    const frame = frameOf(
      1,
      (tile) => (tile < 12 ? -0.1 * (tile + 1) : 0),
      (tile) => (tile >= 16 ? UNSEEN : undefined),
    )
    const { depth, coverage } = depthOf(frame, reference, grid, lit, 'darker')
    expect(depth).toBeCloseTo(1.1, 6)
    expect(coverage).toBeCloseTo(12 / 16, 6)
    expect(depthOf(frame, reference, grid, lit, 'brighter')).toEqual({ depth: 0, coverage: 0 })
  })

  test('counts from the level that is given', () => {
    const frame = frameOf(1, () => -0.5)
    const level = new Float32Array(TILES).fill(-0.125)
    expect(depthOf(frame, reference, grid, lit, 'darker', level).depth).toBeCloseTo(0.375, 6)
  })
})
