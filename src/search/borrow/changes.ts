// What changes on a surface: every frame of a search brought to one exposure and held against the reference state, tile by
// tile.

import type { Workspace } from '../../kernels/workspace.js'
import { cleanPlateSteps } from '../../match/clean-plate.js'
import type { Shown } from '../../match/edge-of-light.js'
import { COVERED, classifyTiles, LIT, STEADY, UNSEEN } from '../../match/light-change.js'
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
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { GlobalExposure } from '../../track/global-exposure.js'
import type { Steps } from '../../turns.js'
import { round } from '../over-frames.js'
import { EMPTY_FRAMES, type Registration } from '../register.js'

/** One frame of one plate, measured. */
export interface FrameChange {
  readonly frame: number
  readonly tiles: TileChange
  /** STEADY, LIT, COVERED, BESIDE or UNSEEN per tile. */
  readonly kind: Uint8Array
  /** Mean change over what can be seen of the region, stops: of what is darker, and of what is brighter; 0 or more. */
  readonly darker: number
  readonly brighter: number
  /** Share of the region that something covers. */
  readonly covered: number
  /** Share of the region that nothing covers or touches. */
  readonly visible: number
  /** Share of the region whose light is not known: clipped, or beyond the picture. */
  readonly unseen: number
}

/** All frames of a search, measured against the reference state. */
export interface Measured {
  readonly registration: Registration
  readonly grid: TileGrid
  readonly reference: ReferenceTiles
  /** By `plate:frame`, as are the changes: of all frames, and of those that have a pose. */
  readonly exposures: ReadonlyMap<string, GlobalExposure>
  readonly changes: ReadonlyMap<string, FrameChange>
}

/**
 * Gives every frame its global exposure where that is known, makes the clean plate anew in it, and measures the tiles.
 *
 * @param known by `plate:frame`; null: the exposures that registration found
 * @param emptyFrames most frames that the clean plate is made from
 */
export function* measureChanges(
  workspace: Workspace,
  registered: Registration,
  known: ReadonlyMap<string, GlobalExposure> | null,
  inside: Readonly<Float32Array>,
  emptyFrames = EMPTY_FRAMES,
): Steps<Measured> {
  const { frames, window, minSpread } = registered
  const exposures = new Map<string, GlobalExposure>()
  for (const f of frames) {
    const even = 2 ** f.exposure
    const found = known?.get(keyOf(f)) ?? { stops: f.exposure, gain: [even, even, even] as const }
    f.exposure = found.stops
    exposures.set(keyOf(f), found)
  }
  const cleanPlate = yield* cleanPlateSteps(
    workspace,
    subsample(frames, emptyFrames),
    window.w * window.h,
    minSpread,
  )
  const grid = tileGrid(inside, window.w)
  const held = frames.filter((f) => f.held)
  const tiles: TileChange[] = []
  for (const f of held) {
    yield
    const out = tileChange(grid.measures)
    measureTiles(f.aligned, f.exposure, f.validity, cleanPlate.level, grid, out)
    tiles.push(out)
  }
  const reference = referenceTiles(tiles, cleanPlate.level, grid)
  const changes = new Map<string, FrameChange>()
  for (const [i, f] of held.entries()) {
    yield
    const near = [i - 1, i + 1].filter(
      (k) => held[k]?.plate === f.plate && Math.abs(held[k].frame - f.frame) === 1,
    )
    const beside = near.map((k) => tiles[k])
    const shown = { aligned: f.aligned, level: cleanPlate.level, validity: f.validity }
    changes.set(keyOf(f), frameChange(f.frame, tiles[i], shown, beside, reference, grid))
  }
  return { registration: { ...registered, cleanPlate }, grid, reference, exposures, changes }
}

/** Per channel, what brings light as it is on frame `from` to what it would be on frame `to`. */
export function gainBetween({ exposures }: Measured, from: FrameKey, to: FrameKey): [number, number, number] {
  const a = exposures.get(keyOf(from))!.gain
  const b = exposures.get(keyOf(to))!.gain
  return [round(a[0] / b[0], 5), round(a[1] / b[1], 5), round(a[2] / b[2], 5)]
}

/** Sums one frame's tiles up over the region. */
function frameChange(
  frame: number,
  tiles: TileChange,
  shown: Shown,
  near: readonly TileChange[],
  reference: ReferenceTiles,
  grid: TileGrid,
): FrameChange {
  const kind = new Uint8Array(grid.weight.length)
  classifyTiles(tiles, reference, grid, kind, shown, near)
  let darker = 0
  let brighter = 0
  let covered = 0
  let visible = 0
  let unseen = 0
  for (let tile = 0; tile < kind.length; tile++) {
    const w = grid.weight[tile]
    if (w === 0) continue
    if (kind[tile] === COVERED) covered += w
    if (kind[tile] === UNSEEN) unseen += w
    if (kind[tile] === LIT || kind[tile] === STEADY) visible += w
    if (kind[tile] !== LIT) continue
    const change = tiles.change[tile] - reference.change[tile]
    if (change < 0) darker -= w * change
    else brighter += w * change
  }
  const seen = Math.max(visible, 1e-9)
  const all = Math.max(grid.totalWeight, 1e-9)
  return {
    frame,
    tiles,
    kind,
    darker: darker / seen,
    brighter: brighter / seen,
    covered: covered / all,
    visible: visible / all,
    unseen: unseen / all,
  }
}
