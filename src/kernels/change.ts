// What changes from one written frame to the next, in small cells.
import type { Workspace } from './workspace.js'

/** Side of a cell, pixels; as in assembly/change.ts. */
export const CELL_PX = 8
/** Marks of pixels where the patch alone is seen, and where the plate alone is; as in assembly/change.ts. */
export const INSIDE = 1
export const RING = 2

/** What says of a frame where the patch is seen, and where the plate. */
export interface Covered {
  /** 0 to 1. */
  readonly alpha: Readonly<Float32Array>
  /** Above 0 on the surround. */
  readonly surround: Readonly<Float32Array>
}

/**
 * Marks per pixel of `a` INSIDE where the patch alone is seen in both frames, RING where the plate alone is, else 0.
 *
 * @param dx,dy whole pixels by which `b` was moved onto `a`
 */
export function markSides(
  workspace: Workspace,
  a: Covered,
  b: Covered,
  width: number,
  dx: number,
  dy: number,
  out: Uint8Array,
): void {
  workspace.run((kernels, room) =>
    kernels.markSides(
      room.read(a.alpha),
      room.read(a.surround),
      room.read(b.alpha),
      room.read(b.surround),
      width,
      out.length / width,
      dx,
      dy,
      room.write(out),
    ),
  )
}

/** Light at which samples tell, linear: above `black` in green, below `clip` in every channel. */
export interface Telling {
  readonly black: number
  readonly clip: number
}

/** Of cells, row by row: how many samples each has, */
export interface CellCounts {
  readonly count: Float64Array
  /** and per cell, R, G and B their sums of a, b, a a, a b, b b. */
  readonly sums: Float64Array
}

/**
 * Adds up both pictures of a pair cell by cell.
 *
 * @param one   interleaved RGB
 * @param sides as markSides has them; what does not tell is marked 0
 */
export function addChange(
  workspace: Workspace,
  one: Readonly<Float32Array>,
  two: Readonly<Float32Array>,
  sides: Uint8Array,
  width: number,
  { black, clip }: Telling,
  inside: CellCounts,
  ring: CellCounts,
): void {
  workspace.run((kernels, room) =>
    kernels.addChange(
      room.read(one),
      room.read(two),
      room.change(sides),
      width,
      sides.length / width,
      clip,
      black,
      room.change(inside.count),
      room.change(inside.sums),
      room.change(ring.count),
      room.change(ring.sums),
    ),
  )
}

/** Of cells, row by row: how many samples each has, and per cell, R, G and B the sums of light and of what is more than that. */
export interface CellSteps {
  readonly count: Float64Array
  readonly light: Float64Array
  readonly step: Float64Array
}

/**
 * Adds up, cell by cell, what two pictures of one frame differ by at some pixels; what does not tell in either is left out.
 *
 * @param plate interleaved RGB, so `own`
 * @param band  the pixels
 */
export function addSteps(
  workspace: Workspace,
  plate: Readonly<Float32Array>,
  own: Readonly<Float32Array>,
  band: Readonly<Int32Array>,
  width: number,
  { black, clip }: Telling,
  { count, light, step }: CellSteps,
): void {
  workspace.run((kernels, room) =>
    kernels.addSteps(
      room.read(plate),
      room.read(own),
      room.read(band),
      band.length,
      width,
      clip,
      black,
      room.change(count),
      room.change(light),
      room.change(step),
    ),
  )
}
