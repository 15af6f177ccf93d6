// Channels of interleaved RGB.
import type { Workspace } from './workspace.js'

/** Writes one channel, 0 to 2, of interleaved RGB by itself. */
export function takeChannel(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  channel: number,
  out: Float32Array,
): void {
  workspace.run((kernels, room) => kernels.takeChannel(room.read(rgb), channel, room.write(out), out.length))
}

/** ... and puts it back to its place. */
export function putChannel(
  workspace: Workspace,
  plane: Readonly<Float32Array>,
  channel: number,
  rgb: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.putChannel(room.read(plane), channel, room.change(rgb), plane.length),
  )
}

/** Marks pixels that have a sample that is not finite with 1, the others with 0. @returns how many there are */
export function markHoles(workspace: Workspace, rgb: Readonly<Float32Array>, out: Uint8Array): number {
  return workspace.run((kernels, room) => kernels.markHoles(room.read(rgb), room.write(out), out.length))
}
