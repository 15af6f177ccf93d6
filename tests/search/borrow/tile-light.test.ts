// Light per tile and channel. Planted truth: pictures whose sums are arithmetic.

import { describe, expect, test } from 'vitest'
import { LIT, STEADY } from '../../../src/match/light-change.js'
import { tileGrid } from '../../../src/match/tiles.js'
import { floatsToHalves } from '../../../src/raster/half.js'
import { shift } from '../../../src/raster/transform.js'
import type { FrameChange } from '../../../src/search/borrow/changes.js'
import {
  againstLight,
  changeColour,
  meanTileLight,
  type TileSource,
  tileLight,
} from '../../../src/search/borrow/tile-light.js'
import { atOnce } from '../../../src/turns.js'
import { evenReference } from './even-reference.js'

const WINDOW = { x: 10, y: 20, w: 30, h: 20 }
const KEPT = { x: 6, y: 16, w: 38, h: 28 }
/** Five pixels square, six by four tiles. */
const grid = tileGrid(new Float32Array(WINDOW.w * WINDOW.h).fill(1), WINDOW.w)
const TILES = grid.columns * grid.rows
const none = new Float32Array(TILES)
const reference = evenReference(TILES)

interface Shot {
  readonly frame: number
  readonly gain?: readonly [number, number, number]
  /** Linear light at a plate pixel. */
  readonly at: (x: number, y: number, channel: number) => number
}

function source(shots: readonly Shot[], kept = KEPT): TileSource {
  const seen = shots.map(({ frame, at }) => {
    const linear = new Float32Array(3 * kept.w * kept.h)
    for (let y = 0, i = 0; y < kept.h; y++)
      for (let x = 0; x < kept.w; x++) for (let c = 0; c < 3; c++) linear[i++] = at(kept.x + x, kept.y + y, c)
    const rgb = new Uint16Array(linear.length)
    floatsToHalves(linear, rgb)
    return { plate: 0, frame, lit: { rgb } }
  })
  const exposures = new Map(shots.map(({ frame, gain = [1, 1, 1] }) => [`0:${frame}`, { stops: 0, gain }]))
  return { measured: { grid, reference, exposures }, seen, rect: kept, region: { window: WINDOW } }
}
const placed = (frame: number, dx = 0, dy = 0) => ({ plate: 0, frame, pose: shift(dx, dy) })
/** In sixty-fourths, which halves hold exactly. */
const slope = (x: number, y: number, c: number) => (x + 2 * y + c) / 64

test('a tile sums its pixels as the pose lays them on the grid, to the nearest pixel, in the common light', () => {
  const light = tileLight(source([{ frame: 1, at: slope, gain: [1, 2, 0.5] }]), placed(1, 2.6, -1.4))
  expect(grid).toMatchObject({ size: 5, columns: 6, rows: 4 })
  for (let tile = 0; tile < TILES; tile++) {
    const x = WINDOW.x + 5 * (tile % 6) + 2 - 3
    const y = WINDOW.y + 5 * Math.floor(tile / 6) + 2 + 1
    for (let c = 0; c < 3; c++)
      expect(light[3 * tile + c]).toBeCloseTo(25 * [1, 2, 0.5][c] * slope(x, y, c), 9)
  }
})

test('what is not finite, and what lies beyond the kept rectangle, adds nothing', () => {
  const spoilt = source([{ frame: 1, at: (x, y) => (x === 12 && y === 22 ? Number.NaN : 0.5) }])
  expect(tileLight(spoilt, placed(1))[0]).toBe(24 * 0.5)
  // The kept rectangle begins four pixels before the window: moved by six to the right, two columns have nothing.
  expect(tileLight(source([{ frame: 1, at: () => 0.5 }]), placed(1, 6))[0]).toBe(15 * 0.5)
})

test('the mean of frames is the mean of their sums', () => {
  const two = source([
    { frame: 1, at: () => 0.25 },
    { frame: 2, at: () => 0.75 },
  ])
  for (const v of atOnce(meanTileLight(two, [placed(1), placed(2)]))) expect(v).toBeCloseTo(25 * 0.5, 9)
})

/** A surface of one grey that a change multiplies on the tiles `lit`. */
function changed(factors: readonly number[], lit: (tile: number) => boolean, stops = -1) {
  const tileAt = (x: number, y: number) => 6 * Math.floor((y - WINDOW.y) / 5) + Math.floor((x - WINDOW.x) / 5)
  const job = source([
    { frame: 1, at: () => 0.5 },
    { frame: 2, at: (x, y, c) => 0.5 * (lit(tileAt(x, y)) ? factors[c] : 1) },
  ])
  const kind = Uint8Array.from({ length: TILES }, (_, tile) => (lit(tile) ? LIT : STEADY))
  const change = Float32Array.from({ length: TILES }, (_, tile) => (lit(tile) ? stops : 0))
  const tiles = { pixels: none, change, residual: none, cross: none }
  const frame: FrameChange = {
    frame: 2,
    tiles,
    kind,
    darker: 0,
    brighter: 0,
    covered: 0,
    visible: 1,
    unseen: 0,
  }
  return { job, frame, before: tileLight(job, placed(1)) }
}

describe('the colour of a change', () => {
  const factors = [0.5, 0.625, 0.75]
  const luminance = 0.2126 * factors[0] + 0.7152 * factors[1] + 0.0722 * factors[2]

  test('is each channel over luminance, on the tiles that changed', () => {
    const { job, frame, before } = changed(factors, (tile) => tile < 7)
    const colour = changeColour(job, frame, placed(2), before, 'darker')
    for (let c = 0; c < 3; c++) expect(colour[c]).toBeCloseTo(factors[c] / luminance, 3)
  })

  test('of a change the other way is not told: it is none', () => {
    const { job, frame, before } = changed(factors, (tile) => tile < 7)
    expect(changeColour(job, frame, placed(2), before, 'brighter')).toEqual([1, 1, 1])
  })
})

describe('what lifting would multiply with', () => {
  const lifted = (
    factors: readonly number[],
    lit: number,
    strong = true,
    sign: 'darker' | 'brighter' = 'darker',
  ) => {
    const { job, frame, before } = changed(factors, (tile) => tile < lit)
    return atOnce(againstLight(job, [{ change: frame, at: placed(2), strong }], before, sign))
  }

  test('can be a shadow where every channel falls, a gleam where every channel rises', () => {
    expect(lifted([0.5, 0.6, 0.7], 12)).toBeNull()
    expect(lifted([1.5, 2, 3], 12, true, 'brighter')).toBeNull()
  })

  test('is no shadow where one channel rises: the frame, its share of the region and its factors are told', () => {
    const against = lifted([1.5, 0.5, 0.5], 6)!
    expect(against).toMatchObject({ frame: 2, always: true })
    expect(against.share).toBeCloseTo(0.25)
    expect(against.low).toBeCloseTo(0.5)
    expect(against.high).toBeCloseTo(1.5)
  })

  test('on a frame far from the peak makes no occluder of the moment', () => {
    expect(lifted([1.5, 0.5, 0.5], 6, false)).toMatchObject({ always: false })
  })
})
