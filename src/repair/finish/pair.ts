// What changes from one written frame to the next, in small cells: inside the patch, and in the ring of the plate round it.
import { addChange, CELL_PX } from '../../kernels/change.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'

export { CELL_PX, INSIDE, markSides as sidesOf, RING } from '../../kernels/change.js'

/** A cell tells from so many samples on. */
const MIN_SAMPLES = CELL_PX ** 2 / 2
/** Light below this is black to every plate: what is cut off there has no grain. */
export const BLACK = 2 ** -11

/** A written frame over the region's window. */
export interface Shown {
  /** Linear RGB of the plate with the patch laid over. */
  readonly repaired: Frame
  /** The patch's alpha, 0 to 1. */
  readonly alpha: Readonly<Float32Array>
  /** 1 on the surround. */
  readonly surround: Readonly<Float32Array>
}

/** Per cell and channel of one side. Sums are over samples that both frames have. */
export class CellSums {
  readonly count: Float64Array
  /** Per cell, R, G and B: sums of a, b, a a, a b, b b. */
  readonly sums: Float64Array

  constructor(readonly cells: number) {
    this.count = new Float64Array(cells)
    this.sums = new Float64Array(15 * cells)
  }

  clear(): void {
    this.count.fill(0)
    this.sums.fill(0)
  }

  isTold(cell: number): boolean {
    return this.count[cell]! >= MIN_SAMPLES
  }
}

/**
 * Adds up both pictures of a pair cell by cell; samples that are black, clipped or no numbers are left out, and marked 0.
 *
 * @param sides as sidesOf; changed
 */
export function addUp(
  workspace: Workspace,
  a: Frame,
  b: Frame,
  sides: Uint8Array,
  clip: number,
  inside: CellSums,
  ring: CellSums,
): void {
  inside.clear()
  ring.clear()
  addChange(workspace, a.data, b.data, sides, a.shape[1], { black: BLACK, clip }, inside, ring)
}

/** Is a pixel's light between black and clipped, in green, and nowhere clipped? */
export function isTelling(data: Readonly<Float32Array>, at: number, clip: number): boolean {
  return data[at]! < clip && data[at + 1]! < clip && data[at + 2]! < clip && data[at + 1]! > BLACK
}
