// What two pictures share: sums for correlation in whole pixels, and differences and sums for alignment.
import type { Plane } from '../raster/plane.js'
import type { Workspace } from './workspace.js'

/** Samples of a picture from one on, `stride` a row. */
export interface Part {
  readonly data: Readonly<Float32Array>
  readonly from: number
  readonly stride: number
}

/**
 * What a correlation needs of a donor under a reference's weights. Called for many offsets: let all samples lie in the
 * workspace, or they are copied each time.
 *
 * @param weight  of the reference, from the first pixel that is compared
 * @param product weight times reference, likewise
 * @param donor   from the pixel that comes to lie there
 * @param step    every so many rows
 * @param sums    receives the sums of w d, w d d, w r d
 */
export function correlate(
  workspace: Workspace,
  weight: Part,
  product: Readonly<Float32Array>,
  donor: Part,
  width: number,
  height: number,
  step: number,
  sums: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.correlate(
      room.read(weight.data) + 4 * weight.from,
      room.read(product) + 4 * weight.from,
      weight.stride,
      room.read(donor.data) + 4 * donor.from,
      donor.stride,
      width,
      height,
      step,
      room.write(sums),
    ),
  )
}

/**
 * A plane at listed pixels under 4 x 4 taps, less a value at each; its edge samples are repeated beyond it.
 *
 * @param left added to a pixel's column: the column of its first tap
 * @param top  added to its row
 * @param taps 4 weights across, then 4 down
 */
export function differencesAt(
  workspace: Workspace,
  { data, width, height }: Plane,
  column: Readonly<Int32Array>,
  row: Readonly<Int32Array>,
  left: number,
  top: number,
  taps: Readonly<Float32Array>,
  value: Readonly<Float32Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.differ4(
      room.read(data),
      width,
      height,
      room.read(column),
      room.read(row),
      column.length,
      left,
      top,
      room.read(taps),
      room.read(value),
      room.write(out),
    ),
  )
}

/** Gradients of a picture and what another differs by from it, pixel by pixel. */
export interface Differences {
  readonly gradientX: Readonly<Float32Array>
  readonly gradientY: Readonly<Float32Array>
  readonly residual: Readonly<Float32Array>
  readonly weight: Readonly<Float32Array>
}

/** Sums that `normalEquations` has. */
export const NORMAL_SUMS = 9

/**
 * Normal equations for (ex, ey, bias) under Tukey's weights. Let all samples lie in the workspace, or they are copied each time.
 *
 * @param centre of the residuals
 * @param flat   variance of what grain alone leaves
 * @param edge   the same per squared gradient
 * @param tukey  residuals beyond so many sigma don't count
 * @param sums   receives xx, xy, yy, x1, y1, ww, xr, yr, rr
 */
export function normalEquations(
  workspace: Workspace,
  { gradientX, gradientY, residual, weight }: Differences,
  { centre, flat, edge, tukey }: { centre: number; flat: number; edge: number; tukey: number },
  sums: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.normalEquations(
      room.read(gradientX),
      room.read(gradientY),
      room.read(residual),
      room.read(weight),
      weight.length,
      centre,
      flat,
      edge,
      tukey * tukey,
      room.write(sums),
    ),
  )
}

/** The sum of squared differences from a centre, each at most `most`. */
export function cappedSquares(
  workspace: Workspace,
  values: Readonly<Float32Array>,
  centre: number,
  most: number,
): number {
  return workspace.run((kernels, room) =>
    kernels.cappedSquares(room.read(values), values.length, centre, most),
  )
}
