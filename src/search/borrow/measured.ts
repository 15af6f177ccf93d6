// Every frame of a search in one light, tile by tile against the quiet state.

import type { Workspace } from '../../kernels/workspace.js'
import { cleanPlateSteps } from '../../match/clean-plate.js'
import { subsample } from '../../match/subsample.js'
import {
  measureTiles,
  type ReferenceTiles,
  referenceTiles,
  type TileChange,
  type TileGrid,
  tileChange,
  tileGrid,
} from '../../match/tiles.js'
import { keyOf } from '../../shot/frame-key.js'
import type { GlobalExposure } from '../../track/global-exposure.js'
import type { Steps } from '../../turns.js'
import { EMPTY_FRAMES, type Registration } from '../register.js'
import { type FrameChange, frameChange } from './frame-change.js'

/** All frames of a search, measured against the quiet state. */
export interface Measured {
  readonly registration: Registration
  readonly grid: TileGrid
  readonly quiet: ReferenceTiles
  readonly light: ReadonlyMap<string, GlobalExposure>
  /** By `plate:frame`. */
  readonly changes: ReadonlyMap<string, FrameChange>
}

/** Puts every frame in the band's light where there is one, makes the quiet state anew in it, and measures the tiles. */
export function* measureLight(
  workspace: Workspace,
  registered: Registration,
  lights: Map<string, GlobalExposure> | null,
  inside: Readonly<Float32Array>,
): Steps<Measured> {
  const { frames, window, minSpread } = registered
  const light = new Map<string, GlobalExposure>()
  for (const f of frames) {
    const even = 2 ** f.exposure
    const found = lights?.get(keyOf(f)) ?? { stops: f.exposure, gain: [even, even, even] as const }
    f.exposure = found.stops
    light.set(keyOf(f), found)
  }
  const cleanPlate = yield* cleanPlateSteps(
    workspace,
    subsample(frames, EMPTY_FRAMES),
    window.w * window.h,
    minSpread,
  )
  const grid = tileGrid(inside, window.w)
  const held = frames.filter((f) => f.held)
  const tiles: TileChange[] = []
  for (const f of held) {
    yield
    const out = tileChange(grid.columns * grid.rows)
    measureTiles(f.aligned, f.exposure, f.validity, cleanPlate.level, grid, out)
    tiles.push(out)
  }
  const quiet = referenceTiles(tiles, cleanPlate.level, grid)
  const changes = new Map<string, FrameChange>()
  for (const [i, f] of held.entries()) {
    yield
    changes.set(keyOf(f), frameChange(f.frame, tiles[i], quiet, grid))
  }
  return { registration: { ...registered, cleanPlate }, grid, quiet, light, changes }
}
