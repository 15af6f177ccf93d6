// Bytes that a file stores as differences.
import { Workspace } from './workspace.js'

/** One for all chunks that a thread decodes: each is done when its call ends. */
let workspace: Workspace | undefined

/**
 * Turns differences into bytes and brings the two halves, which hold the even and the odd bytes, together: the predictor of
 * OpenEXR's RLE and ZIP.
 */
export function undoPredictor(bytes: Readonly<Uint8Array>): Uint8Array {
  const out = new Uint8Array(bytes.length)
  workspace ??= new Workspace()
  // The kernel sums in place: in the copy that it is given.
  workspace.run((kernels, room) => kernels.undoPredictor(room.read(bytes), room.write(out), bytes.length))
  return out
}
