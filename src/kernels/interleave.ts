// Three planes of halves into pixels.
import type { Workspace } from './workspace.js'

/**
 * Brings the samples of three planes together, pixel by pixel; what is not a number becomes quiet.
 *
 * @param planes each from its first sample to its last: little-endian halves, `count` a row, rows `pitch` bytes apart
 * @param out    [rows, count, 3]
 */
export function interleave(
  workspace: Workspace,
  [r, g, b]: readonly Uint8Array[],
  pitch: number,
  count: number,
  rows: number,
  out: Uint16Array,
): void {
  workspace.run((kernels, room) =>
    kernels.interleave(room.read(r), room.read(g), room.read(b), pitch, count, rows, room.write(out)),
  )
}
