// What has changed on the region in one frame.

import { COVERED, classifyTiles, LIT, STEADY } from '../../match/light-change.js'
import type { ReferenceTiles, TileChange, TileGrid } from '../../match/tiles.js'

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
}

/** Sums one frame's tiles up over the region. */
export function frameChange(
  frame: number,
  tiles: TileChange,
  quiet: ReferenceTiles,
  grid: TileGrid,
): FrameChange {
  const kind = new Uint8Array(tiles.change.length)
  classifyTiles(tiles, quiet, grid, kind)
  let darker = 0
  let brighter = 0
  let covered = 0
  let visible = 0
  for (let tile = 0; tile < kind.length; tile++) {
    const w = grid.weight[tile]
    if (w === 0) continue
    if (kind[tile] === COVERED) covered += w
    if (kind[tile] === LIT || kind[tile] === STEADY) visible += w
    if (kind[tile] !== LIT) continue
    const change = tiles.change[tile] - quiet.change[tile]
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
  }
}
