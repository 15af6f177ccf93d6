// Bytes that a file stores as differences.
import type { Workspace } from './workspace.js'

/**
 * Turns differences into bytes and brings the two halves, which hold the even and the odd bytes, together: the predictor of
 * OpenEXR's RLE and ZIP.
 *
 * @param out as many bytes, of the workspace if they are not to be copied out of it
 */
export function undoPredictor(workspace: Workspace, bytes: Readonly<Uint8Array>, out: Uint8Array): void {
  // The kernel sums in place: in the copy that it is given.
  workspace.run((kernels, room) => kernels.undoPredictor(room.read(bytes), room.write(out), bytes.length))
}
