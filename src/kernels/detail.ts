// What a picture shows beside its light, and how strongly.
import type { Plane } from '../raster/plane.js'
import type { Workspace } from './workspace.js'

/** Takes from `out` the mean of `source` over a square of 2 * radius + 1 pixels, at the edges over what of it lies inside. */
export function subtractBoxMean(
  workspace: Workspace,
  { data, width, height }: Plane,
  radius: number,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.subtractBoxMean(
      room.read(data),
      room.change(out),
      room.space(4 * (width + 2 * radius)),
      width,
      height,
      radius,
    ),
  )
}

/** v becomes v / (knee + |v|), in place. */
export function softSign(workspace: Workspace, data: Float32Array, knee: number): void {
  workspace.run((kernels, room) => kernels.softSign(room.change(data), data.length, knee))
}

/**
 * Sum of the squared central differences where `weight` is more than 0, edge pixels left out, and how many those are.
 *
 * @param both 1 or 0 per pixel in each of two pictures: pixels that are 1 in both, as their four neighbours are, count; absent: all do
 */
export function gradientSquares(
  workspace: Workspace,
  picture: Readonly<Float32Array>,
  width: number,
  weight: Readonly<Float32Array>,
  both?: readonly [Readonly<Uint8Array>, Readonly<Uint8Array>],
): [square: number, n: number] {
  return workspace.run((kernels, room) => {
    const { answer } = room
    kernels.gradientSquares(
      room.read(picture),
      room.read(weight),
      both === undefined ? 0 : room.read(both[0]),
      both === undefined ? 0 : room.read(both[1]),
      width,
      picture.length / width,
      answer.byteOffset,
    )
    return [answer[0], answer[1]]
  })
}
