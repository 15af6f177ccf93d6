import { describe, expect, test } from 'vitest'
import { COVERED, LIT, STEADY } from '../../../src/match/light-change.js'
import type { ReferenceTiles } from '../../../src/match/tiles.js'
import type { FrameChange, Measured } from '../../../src/search/borrow/changes.js'
import type { FoundMoment } from '../../../src/search/borrow/moments.js'
import { unlitFrames } from '../../../src/search/borrow/unlit-frames.js'
import { evenReference } from './even-reference.js'

const CELLS = 100
const MOMENT = { start: 1040, peak: 1050, end: 1060, depthStops: 0.8 } as FoundMoment

/** Plate of 100 frames; `stops` is the change of one tile on one frame. */
function measured(stops: (frame: number, tile: number) => number, covered = (_frame: number) => 0): Measured {
  const changes = new Map<string, FrameChange>()
  for (let frame = 1001; frame <= 1100; frame++) {
    const change = Float32Array.from({ length: CELLS }, (_, tile) => stops(frame, tile))
    const kind = Uint8Array.from(change, (v, tile) =>
      tile < covered(frame) ? COVERED : Math.abs(v) > 0.03 ? LIT : STEADY,
    )
    const pixels = new Float32Array(CELLS).fill(49)
    const darker = change.reduce((sum, v) => sum + Math.max(0, -v), 0) / CELLS
    const visible = 1 - covered(frame) / CELLS
    const tiles = { pixels, change, residual: pixels, cross: pixels }
    changes.set(`0:${frame}`, {
      frame,
      tiles,
      kind,
      darker,
      brighter: 0,
      covered: 1 - visible,
      visible,
      unseen: 0,
    })
  }
  const grid = { weight: new Float32Array(CELLS).fill(49), totalWeight: 49 * CELLS }
  const reference: ReferenceTiles = evenReference(CELLS)
  return { changes, grid, reference } as unknown as Measured
}
const numbers = (m: Measured) => unlitFrames(m, 0, MOMENT).map((f) => f.frame)
const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)

describe('the unlit frames of a moment', () => {
  test('are the eight before and the eight after that lie next to it', () => {
    expect(numbers(measured(() => 0))).toEqual([...range(1032, 1039), ...range(1061, 1068)])
  })

  test('stay next to it when somebody beside the surface takes a little of its light all the while', () => {
    const beside = measured((frame, tile) => (frame > 1045 && tile < 40 ? -0.06 : 0))
    expect(numbers(beside)).toEqual([...range(1032, 1039), ...range(1061, 1068)])
  })

  test('are not those on which another shadow lies, be it half as deep', () => {
    const other = measured((frame, tile) => (frame > 1060 && frame <= 1070 && tile < 40 ? -0.4 : 0))
    expect(numbers(other)).toEqual([...range(1032, 1039), ...range(1071, 1078)])
  })

  test('are not those on which somebody walks through', () => {
    const walker = measured(
      () => 0,
      (frame) => (frame < 1040 && frame > 1030 ? 10 : 0),
    )
    expect(numbers(walker)).toEqual([...range(1023, 1030), ...range(1061, 1068)])
  })

  test('where it is never unlit are the five on which least happens', () => {
    const restless = measured((frame) => -0.2 - 0.001 * Math.abs(frame - 1080))
    expect(numbers(restless)).toEqual(range(1078, 1082))
  })
})
