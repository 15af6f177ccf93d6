// Whole frames, or strips of them, as smaller pictures: where a camera looks is told to a tenth of their pixels, and costs little there.
import { OffcutError, OUT_OF_MEMORY } from '../../errors.js'
import { asTheyCome } from '../../footage/as-they-come.js'
import { eachHalfRows, type Plate } from '../../footage/plate.js'
import { hideAvoided, readHalves } from '../../footage/read-halves.js'
import { codecs } from '../../kernels/codecs.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Sought } from '../../match/find-anywhere.js'
import { type SmallLogLuminance, smallLogLuminance, smallRoom } from '../../match/log-luminance.js'
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
  const keepBoth = async (frame: number, { made, cut }: Made) => {
    const stamp = stamps.get(frame) ?? null
    if (cut !== null) await part?.put(frame, stamp, cut)
    if (!plate.avoided?.has(frame)) await cache.put(frame, stamp, made)
    return smallOf(frame, made)
  }
  const otherwise: number[] = []
  const byRows = asTheyCome(missing, AT_ONCE, async (frame) => {
    return { frame, found: await madeByRows(plate, frame, rect, factor, part?.rect ?? null) }
  })
  for await (const { frame, found } of byRows) {
    if (found === 'stored otherwise') otherwise.push(frame)
    else yield found === 'unreadable' ? { frame, small: null } : await keepBoth(frame, found)
  }
  for await (const { frame, picture } of readHalves(plate, otherwise, rect)) {
    if (picture === undefined) {
      yield { frame, small: null }
      continue
    }
    const cut = part && cutHalves(picture, rect, part.rect)
    hideAvoided(plate, frame, rect, picture)
    yield await keepBoth(frame, {
      made: smallLogLuminance(workspace, picture, rect, factor, plate.clipLevel),
      cut,
    })
  }
  await cache.touch()
}

/** What is made of a frame. */
interface Made {
  readonly made: SmallLogLuminance
  /** The rectangle that is kept of it. */
  readonly cut: Uint16Array | null
}

/** Frames that are made small by their rows at a time: one is read while the other is. */
const AT_ONCE = 2
/** Up to so many samples a strip is taken in at once, else so many rows: whole blocks of any file. */
const MAX_SAMPLES = 8 << 20
const ROWS = 256

/**
 * The same of halves as a file stores them, each row made small where it was decoded: nothing as large as the strip is copied.
 *
 * @param part of `rect`, which is cut out
 */
async function madeByRows(
  plate: Plate,
  frame: number,
  rect: Rect,
  factor: number,
  part: Rect | null,
): Promise<Made | 'stored otherwise' | 'unreadable'> {
  if (rect.x !== 0 || rect.w !== plate.width) return 'stored otherwise'
  const made = smallRoom(rect, factor)
  const { log, known } = made
  const cut = part && new Uint16Array(3 * part.w * part.h)
  const take = (halves: Uint16Array, y: number): void => {
    const band = { ...rect, y, h: halves.length / (3 * rect.w) }
    if (part !== null && cut !== null) {
      const shared = intersect(part, band)
      if (shared.h > 0) cutHalves(halves, band, shared, cut.subarray(3 * part.w * (shared.y - part.y)))
    }
    hideAvoided(plate, frame, band, halves)
    const from = ((y - rect.y) / factor) * log.width
    const to = from + Math.floor(band.h / factor) * log.width
    const into = { log: { ...log, data: log.data.subarray(from, to) }, known: known.subarray(from, to) }
    smallLogLuminance(codecs(), halves, band, factor, plate.clipLevel, into)
  }
  const rows = 3 * rect.w * rect.h <= MAX_SAMPLES ? rect.h : Math.max(ROWS, factor)
  try {
    const isStored = await eachHalfRows(plate, frame, { rows, from: rect.y, to: rect.y + rect.h, take })
    return isStored ? { made, cut } : 'stored otherwise'
  } catch (error) {
    if (error instanceof OffcutError && error.code !== OUT_OF_MEMORY) return 'unreadable'
    throw error
  }
}
