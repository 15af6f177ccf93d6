// What two pictures share: sums for correlation in whole pixels, and samples for alignment.
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
 * A plane at listed pixels under 4 x 4 taps; its edge samples are repeated beyond it.
 *
 * @param left added to a pixel's column: the column of its first tap
 * @param top  added to its row
 * @param taps 4 weights across, then 4 down
 */
export function sampleAt(
  workspace: Workspace,
  { data, width, height }: Plane,
  column: Readonly<Int32Array>,
  row: Readonly<Int32Array>,
  left: number,
  top: number,
  taps: Readonly<Float32Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.sample4(
      room.read(data),
      width,
      height,
      room.read(column),
      room.read(row),
      column.length,
      left,
      top,
      room.read(taps),
      room.write(out),
    ),
  )
}
