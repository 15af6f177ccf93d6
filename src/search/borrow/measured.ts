// Every frame of a search in one light, cell by cell against the quiet state.

import { emptyState } from '../../match/clean-plate.js'
import { spreadEvenly } from '../../match/subsample.js'
import {
  type CellGrid,
  cellChange,
  cellGrid,
  measureCells,
  type QuietCells,
  quietCells,
} from '../../match/tiles.js'
import type { BandLight } from '../../track/global-exposure.js'
import { keyOf } from '../../track/read-frames.js'
import { EMPTY_FRAMES, type Registration } from '../register.js'
import { type FrameChange, frameChange } from './frame-change.js'

/** All frames of a search, measured against the quiet state. */
export interface Measured {
  readonly registration: Registration
  readonly grid: CellGrid
  readonly quiet: QuietCells
  readonly light: ReadonlyMap<string, BandLight>
  /** By `plate:frame`. */
  readonly changes: ReadonlyMap<string, FrameChange>
}

/** Puts every frame in the band's light where there is one, makes the quiet state anew in it, and measures the cells. */
export function measureLight(
  registered: Registration,
  lights: Map<string, BandLight> | null,
  inside: Readonly<Float32Array>,
): Measured {
  const { frames, window, leastSpread } = registered
  const light = new Map<string, BandLight>()
  for (const f of frames) {
    const even = 2 ** f.light
    const found = lights?.get(keyOf(f)) ?? { stops: f.light, gain: [even, even, even] as const }
    f.light = found.stops
    light.set(keyOf(f), found)
  }
  const empty = emptyState(spreadEvenly(frames, EMPTY_FRAMES), window.w * window.h, leastSpread)
  const grid = cellGrid(inside, window.w)
  const held = frames.filter((f) => f.held)
  const cells = held.map((f) => {
    const out = cellChange(grid.columns * grid.rows)
    measureCells(f.aligned, f.light, f.trust, empty.level, grid, out)
    return out
  })
  const quiet = quietCells(cells, empty.level, grid)
  const changes = new Map(held.map((f, i) => [keyOf(f), frameChange(f.frame, cells[i], quiet, grid)]))
  return { registration: { ...registered, empty }, grid, quiet, light, changes }
}
