// Sums over small square cells of two pictures' green.
import type { Workspace } from './workspace.js'

/** Side of a cell, pixels: blocks of a codec that are taken over as they are have this or twice it; as in assembly/cells.ts. */
export const CELL_PX = 8

/** Cells in one direction that lie in so many pixels altogether. */
function cellsIn(pixels: number, step: number): number {
  return Math.max(0, Math.floor((pixels - CELL_PX) / step) + 1)
}

/** Two pictures, interleaved RGB, and a plane of as many pixels that count where it is above 0. */
export interface Compared {
  readonly one: Readonly<Float32Array>
  readonly two: Readonly<Float32Array>
  readonly counts: Readonly<Float32Array>
  readonly width: number
}

/**
 * Six per cell, row by row: how many pixels count and are finite in both, sums of a, b, a a, a b, b b over them.
 *
 * @param step pixels from a cell's corner to the next one's, right and down
 */
export function cellProducts(
  workspace: Workspace,
  { one, two, counts, width }: Compared,
  step: number,
): Float64Array {
  const height = counts.length / width
  const out = new Float64Array(6 * cellsIn(width, step) * cellsIn(height, step))
  workspace.run((kernels, room) =>
    kernels.cellProducts(
      room.read(one),
      room.read(two),
      room.read(counts),
      width,
      height,
      step,
      room.write(out),
    ),
  )
  return out
}

/** Three per cell, row by row: how many pixels count, sums of `two` and of the squares of what `one` differs from it by. */
export function cellDistances(workspace: Workspace, { one, two, counts, width }: Compared): Float64Array {
  const height = counts.length / width
  const out = new Float64Array(3 * cellsIn(width, CELL_PX) * cellsIn(height, CELL_PX))
  workspace.run((kernels, room) =>
    kernels.cellDistances(room.read(one), room.read(two), room.read(counts), width, height, room.write(out)),
  )
  return out
}
