// A patch laid over a picture.
import { layOver } from '../kernels/patch.js'
import type { Workspace } from '../kernels/workspace.js'
import { type Frame, frame } from '../raster/frame.js'

/**
 * Puts a patch over a picture; where alpha is 0 the picture's own samples stay, bit by bit. Samples of the picture that are no
 * finite numbers can't be mixed: where the patch covers them at all it covers them altogether.
 *
 * @param room lends room for the result
 */
export function over(
  workspace: Workspace,
  patch: Frame,
  alpha: Readonly<Float32Array>,
  under: Frame,
  room: (length: number) => Float32Array = (length) => new Float32Array(length),
): Frame {
  const out = frame(under.shape[0], under.shape[1], 3, room(under.data.length))
  layOver(workspace, patch.data, alpha, under.data, out.data)
  return out
}

/** One sample of a patch of alpha above 0 over one of what lies under it. */
export function laid(alpha: number, own: number, under: number): number {
  return alpha === 1 || !Number.isFinite(under) ? own : alpha * own + (1 - alpha) * under
}
