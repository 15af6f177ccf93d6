// Whole frames, or strips of them, as smaller pictures: where a camera looks is told to a tenth of their pixels, and costs little there.
import type { Plate } from '../../footage/plate.js'
import { hideAvoided, readHalves } from '../../footage/read-halves.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Sought } from '../../match/find-anywhere.js'
import { smallLogLuminance } from '../../match/log-luminance.js'
import { contains, intersect, type Rect } from '../../raster/rect.js'
import type { Transform } from '../../raster/transform.js'
import { withRoom } from '../cached-halves.js'
import { cutHalves, RectCache } from '../rect-cache.js'
import { SmallCache, type SmallPicture } from './small-cache.js'

/** Frames are halved until the longer side is no longer than this, pixels. */
const SMALL_PX = 1024

/** Log2 luminance of a frame or a strip of it, its corner at 0, 0, and where its pixels lie on the plate. */
export interface SmallFrame extends Sought {
  readonly frame: number
  /** From its pixels to the plate's. */
  readonly toPlate: Transform
}

/**
 * Reads whole frames as small pictures, in the order in which they are asked for; frames that can't be read are left out.
 *
 * @param longest their longer side has no more pixels than this
 * @param keep    a rectangle of them that will be asked for: it goes into the cache, as it is decoded anyway
 * @param rect    what is read of them, the plate's pixels
 */
export async function* smallFrames(
  workspace: Workspace,
  plate: Plate,
  frames: readonly number[],
  longest: number = SMALL_PX,
  keep?: Rect,
  rect: Rect = plate.active,
): AsyncGenerator<SmallFrame> {
  const waiting = new Map<number, SmallFrame | null>()
  let next = 0
  for await (const small of asTheyAreRead(workspace, plate, frames, longest, keep, rect)) {
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
  keep: Rect | undefined,
  rect: Rect,
): AsyncGenerator<{ frame: number; small: SmallFrame | null }> {
  let factor = 1
  while (Math.max(Math.floor(rect.w / factor), Math.floor(rect.h / factor)) > longest) factor *= 2
  const middle = (factor - 1) / 2
  const toPlate: Transform = [factor, 0, rect.x + middle, 0, factor, rect.y + middle, 0, 0, 1]
  const smallOf = (frame: number, { log, known }: SmallPicture) => {
    return { frame, small: { frame, picture: log, known, toPlate } }
  }
  const cache = new SmallCache(plate, factor, rect)
  const missing: number[] = []
  for (const frame of frames) {
    const kept = plate.avoided?.has(frame) ? null : await cache.get(frame)
    if (kept === null) missing.push(frame)
    else yield smallOf(frame, kept)
  }
  const part =
    keep && contains(rect, keep) ? new RectCache(plate, intersect(withRoom(plate, keep), rect)) : null
  const stamps = new Map<number, Buffer | null>()
  for (const frame of missing) stamps.set(frame, await cache.stamp(frame))
  for await (const { frame, picture } of readHalves(plate, missing, rect)) {
    if (picture === undefined) {
      yield { frame, small: null }
      continue
    }
    const stamp = stamps.get(frame) ?? null
    await part?.put(frame, stamp, cutHalves(picture, rect, part.rect))
    hideAvoided(plate, frame, rect, picture)
    const made = smallLogLuminance(workspace, picture, rect, factor, plate.clipLevel)
    if (!plate.avoided?.has(frame)) await cache.put(frame, stamp, made)
    yield smallOf(frame, made)
  }
  await cache.touch()
}
