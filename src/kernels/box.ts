// Means of so many samples either way, and a picture's detail, which is what differs from them.
import type { Workspace } from './workspace.js'

/** Mean over a square of 2 radius + 1 samples, at the edges over what of it lies inside; by running sums in float64. @param out receives it */
export function boxMean(
  workspace: Workspace,
  data: Readonly<Float32Array>,
  width: number,
  radius: number,
  out: Float32Array = new Float32Array(data.length),
): Float32Array {
  workspace.run((kernels, room) =>
    kernels.boxMean(
      room.read(data),
      room.space(data.byteLength),
      room.space(8 * (width + 1)),
      room.write(out),
      width,
      data.length / width,
      radius,
    ),
  )
  return out
}

/**
 * Local variance of a plane's detail, in its place: squares of what differs from the mean over 2 detail + 1 samples, averaged
 * over 2 around + 1. At the edges means are over what lies inside.
 */
export function detailVariance(
  workspace: Workspace,
  data: Float32Array,
  width: number,
  detail: number,
  around: number,
): void {
  const height = data.length / width
  workspace.run((kernels, room) =>
    kernels.detailVariance(
      room.change(data),
      room.space(data.byteLength),
      room.space(data.byteLength),
      room.space(8 * (width + 1)),
      width,
      height,
      detail,
      around,
    ),
  )
}

/** Brings a plane's detail down to `stays` of it, 0 to 1 per sample, in place. */
export function keepDetail(
  workspace: Workspace,
  data: Float32Array,
  stays: Readonly<Float32Array>,
  width: number,
  detail: number,
): void {
  const height = data.length / width
  workspace.run((kernels, room) =>
    kernels.keepDetail(
      room.change(data),
      room.space(data.byteLength),
      room.space(data.byteLength),
      room.space(8 * (width + 1)),
      room.read(stays),
      width,
      height,
      detail,
    ),
  )
}
