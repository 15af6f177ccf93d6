// What has changed on the region in one frame.

import { COVERED, classifyCells, LIT, STEADY } from '../../match/light-change.js'
import type { CellChange, CellGrid, QuietCells } from '../../match/tiles.js'

/** One frame of one plate, measured. */
export interface FrameChange {
  readonly frame: number
  readonly cells: CellChange
  /** STEADY, LIT, COVERED, BESIDE or UNSEEN per cell. */
  readonly kind: Uint8Array
  /** Mean change over what can be seen of the region, stops: of what is darker, and of what is brighter; 0 or more. */
  readonly darker: number
  readonly brighter: number
  /** Share of the region that something covers. */
  readonly covered: number
  /** Share of the region that nothing covers or touches. */
  readonly visible: number
}

/** Sums one frame's cells up over the region. */
export function frameChange(
  frame: number,
  cells: CellChange,
  quiet: QuietCells,
  grid: CellGrid,
): FrameChange {
  const kind = new Uint8Array(cells.change.length)
  classifyCells(cells, quiet, grid, kind)
  let darker = 0
  let brighter = 0
  let covered = 0
  let visible = 0
  for (let cell = 0; cell < kind.length; cell++) {
    const w = grid.weight[cell]
    if (w === 0) continue
    if (kind[cell] === COVERED) covered += w
    if (kind[cell] === LIT || kind[cell] === STEADY) visible += w
    if (kind[cell] !== LIT) continue
    const change = cells.change[cell] - quiet.change[cell]
    if (change < 0) darker -= w * change
    else brighter += w * change
  }
  const seen = Math.max(visible, 1e-9)
  const all = Math.max(grid.totalWeight, 1e-9)
  return {
    frame,
    cells,
    kind,
    darker: darker / seen,
    brighter: brighter / seen,
    covered: covered / all,
    visible: visible / all,
  }
}
