// Whole frames as smaller pictures: where a camera looks is told to a tenth of their pixels, and costs little there.
import type { Plate } from '../../footage/plate.js'
import { hideAvoided, readHalves } from '../../footage/read-halves.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Sought } from '../../match/find-anywhere.js'
import { smallLogLuminance } from '../../match/log-luminance.js'
import type { Transform } from '../../raster/transform.js'

/** Frames are halved until the longer side is no longer than this, pixels. */
const SMALL_PX = 1024

/** A frame's log2 luminance, its corner at 0, 0, and where its pixels lie on the plate. */
export interface SmallFrame extends Sought {
  readonly frame: number
  /** From its pixels to the plate's. */
  readonly toPlate: Transform
}

/**
 * Reads whole frames as small pictures, in the order in which they are asked for; frames that can't be read are left out.
 *
 * @param longest their longer side has no more pixels than this
 */
export async function* smallFrames(
  workspace: Workspace,
  plate: Plate,
  frames: readonly number[],
  longest: number = SMALL_PX,
): AsyncGenerator<SmallFrame> {
  const waiting = new Map<number, SmallFrame | null>()
  let next = 0
  for await (const small of asTheyAreRead(workspace, plate, frames, longest)) {
    waiting.set(small.frame, small.small)
    for (; next < frames.length && waiting.has(frames[next]); next++) {
      const ready = waiting.get(frames[next])!
      waiting.delete(frames[next])
      if (ready) yield ready
    }
  }
}

async function* asTheyAreRead(
  workspace: Workspace,
  plate: Plate,
  frames: readonly number[],
  longest: number,
): AsyncGenerator<{ frame: number; small: SmallFrame | null }> {
  const rect = plate.active
  let factor = 1
  while (Math.max(Math.floor(rect.w / factor), Math.floor(rect.h / factor)) > longest) factor *= 2
  for await (const { frame, picture } of readHalves(plate, frames, rect)) {
    if (picture === undefined) {
      yield { frame, small: null }
      continue
    }
    hideAvoided(plate, frame, rect, picture)
    const { log, known } = smallLogLuminance(workspace, picture, rect, factor, plate.clipLevel)
    const middle = (factor - 1) / 2
    const toPlate: Transform = [factor, 0, rect.x + middle, 0, factor, rect.y + middle, 0, 0, 1]
    yield { frame, small: { frame, picture: log, known, toPlate } }
  }
}
