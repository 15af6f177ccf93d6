// A rectangle of many frames as halves, by way of the cache: what it has of them is not read, of a frame of which it has some
// rows only the others are, and what is read has room, so that a region that is moved or grown a little is there already.
import pLimit from 'p-limit'
import type { Plate } from '../footage/plate.js'
import { readHalves } from '../footage/read-halves.js'
import { READ_AHEAD } from '../footage/read-many.js'
import type { Delivery } from '../footage/source.js'
import { grow, intersect, type Rect } from '../raster/rect.js'
import { cutHalves, RectCache } from './rect-cache.js'

/**
 * Room beside what is wanted, pixels. Formats that are read by rows unpack whole rows for any part of them: of 4096 x 2160
 * half floats in ZIP 660 pixels of a row cost 1.07 times what 532 do, but 660 rows 1.27 times what 532 rows do.
 */
const ROOM_PX = 64
/**
 * Below it where every row costs as much as one that is wanted: of 1920 x 1080 in 16-bit PNG 64 rows cost 8 % of decoding 746.
 * A mask that is grown by a few pixels finds them.
 */
const ROOM_BELOW_PX = 16
/** Frames of which rows above and below are read together: the first of both wait for the second. */
const TOGETHER = 8

/** What is read of a frame where a rectangle is wanted: with room where it costs next to nothing. */
export function withRoom({ active, source }: Plate, rect: Rect): Rect {
  const { x, y, w, h } = intersect(grow(rect, ROOM_PX), active)
  if (source.byRows) return { x, y: rect.y, w, h: rect.h }
  const below = Math.min(y + h, rect.y + rect.h + (source.downwards ? ROOM_BELOW_PX : ROOM_PX))
  return { x, y, w, h: below - y }
}

/**
 * What the cache has of the frames first, then the rest as it is decoded. Halves last until the next are asked for.
 *
 * @param rect inside what of the plate holds picture
 */
export async function* cachedHalves(
  plate: Plate,
  frames: readonly number[],
  rect: Rect,
): AsyncGenerator<Delivery<Uint16Array>> {
  const cache = new RectCache(plate, rect)
  const missing: number[] = []
  for (let i = 0; i < frames.length; i += READ_AHEAD) {
    const some = frames.slice(i, i + READ_AHEAD)
    const found = await Promise.all(some.map((frame) => cache.get(frame)))
    for (const [k, halves] of found.entries()) {
      if (halves === null) missing.push(some[k])
      else {
        yield { frame: some[k], picture: halves }
        cache.giveBack(halves)
      }
    }
  }
  if (missing.length > 0) {
    const out = new Uint16Array(3 * rect.w * rect.h)
    const rest = plate.source.byRows ? yield* joined(plate, cache, missing, out) : missing
    const kept = new RectCache(plate, withRoom(plate, rect))
    const reading = readHalves(plate, rest, kept.rect, () => kept.room())
    yield* written(kept, rest, reading, rect, out)
  }
  await cache.touch()
}

/**
 * Frames of which the cache has some rows. @returns the others
 *
 * @param out what is delivered is written here
 */
async function* joined(
  plate: Plate,
  cache: RectCache,
  frames: readonly number[],
  out: Uint16Array,
): AsyncGenerator<Delivery<Uint16Array>, number[]> {
  const rest: number[] = []
  const byKept = new Map<Rect, number[]>()
  for (const frame of frames) {
    const kept = await cache.rowsOf(frame)
    if (kept === null) rest.push(frame)
    else byKept.set(kept, [...(byKept.get(kept) ?? []), frame])
  }
  for (const [kept, some] of byKept) {
    const whole = { ...cache.rect, x: kept.x, w: kept.w }
    const lost: number[] = []
    const reading = joining(plate, cache, some, kept, whole, lost)
    yield* written(new RectCache(plate, whole), some, reading, cache.rect, out)
    rest.push(...lost)
  }
  return rest
}

/**
 * Rows that were kept with those that were not.
 *
 * @param kept  a rectangle that was kept of each frame
 * @param whole its columns and the wanted rows
 * @param lost  gets the frames of which what was kept is not good any more
 */
async function* joining(
  plate: Plate,
  cache: RectCache,
  frames: readonly number[],
  kept: Rect,
  whole: Rect,
  lost: number[],
): AsyncGenerator<Delivery<Uint16Array>> {
  const shared = intersect(kept, whole)
  const strips = [
    { ...whole, h: shared.y - whole.y },
    { ...whole, y: shared.y + shared.h, h: whole.y + whole.h - shared.y - shared.h },
  ].filter(({ h }) => h > 0)
  for (let i = 0; i < frames.length; i += TOGETHER) {
    const some = frames.slice(i, i + TOGETHER)
    const found = new Map<number, Delivery<Uint16Array>>()
    for (const frame of some) {
      const own = await cache.readKept(frame, kept)
      if (own === null) lost.push(frame)
      else {
        const picture = new Uint16Array(3 * whole.w * whole.h)
        layRows(own, kept, shared, picture, whole)
        cache.giveBack(own)
        found.set(frame, { frame, picture })
      }
    }
    for (const strip of strips) {
      for await (const { frame, picture, error } of readHalves(plate, [...found.keys()], strip)) {
        const { picture: into } = found.get(frame)!
        if (error !== undefined) found.set(frame, { frame, error })
        else if (into !== undefined) layRows(picture, strip, strip, into, whole)
      }
    }
    yield* found.values()
  }
}

/** Rows of one picture in another of the same columns. @param part of both, over their whole width */
function layRows(from: Uint16Array, of: Rect, part: Rect, to: Uint16Array, whole: Rect): void {
  const row = 3 * whole.w
  const start = (part.y - of.y) * row
  to.set(from.subarray(start, start + part.h * row), (part.y - whole.y) * row)
}

/** What is read of a cache's rectangle, kept in it, and the wanted part of it handed on. */
async function* written(
  cache: RectCache,
  frames: readonly number[],
  reading: AsyncGenerator<Delivery<Uint16Array>>,
  rect: Rect,
  out: Uint16Array,
): AsyncGenerator<Delivery<Uint16Array>> {
  const stamps = new Map<number, Buffer | null>()
  const limit = pLimit(READ_AHEAD)
  const writes: Promise<void>[] = []
  for (const frame of frames) stamps.set(frame, await cache.stamp(frame))
  for await (const delivery of reading) {
    const { frame, picture: halves } = delivery
    if (halves === undefined) {
      yield delivery
      continue
    }
    // Before it is written: then another frame may lie there.
    const picture = cutHalves(halves, cache.rect, rect, out)
    // Written while the next frames are decoded, a few at a time.
    writes.push(limit(() => cache.putAndReuse(frame, stamps.get(frame) ?? null, halves)))
    if (writes.length > READ_AHEAD) await writes.shift()
    yield { frame, picture }
  }
  await Promise.all(writes)
  await cache.touch()
}
