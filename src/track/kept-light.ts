// What a search has read of its plates, for who draws it: from memory as far as that goes, else from the cache on disk, and
// only what neither has is decoded. All of it as halves: where a plate stores no half floats of linear light its samples are
// rounded to 11 bits, far below what a page shows, but no more what a patch is to be made of.
import type { KeptLight, Plate, Room } from '../footage/plate.js'
import { keepRects } from '../footage/read-many.js'
import type { KeepOptions } from '../footage/source.js'
import { codecs } from '../kernels/codecs.js'
import { halfValues } from '../kernels/half-light.js'
import { type Frame, frame } from '../raster/frame.js'
import { HALF_VALUES } from '../raster/half.js'
import { contains, intersect, type Rect } from '../raster/rect.js'
import { IDENTITY } from '../raster/transform.js'
import { cachedHalves } from './cached-halves.js'
import { readRectFor } from './read-rect-for.js'
import { cutHalves, type KeptRect, RectCache } from './rect-cache.js'

/** Held in memory of all plates together, bytes: 90 pieces of 500 x 500 pixels. */
export const MAX_KEPT_BYTES = 128 * 2 ** 20
/** A kept rectangle of more than so many times the pixels that are asked for is cut. */
const MAX_TIMES = 2
/** Read beyond what is asked for, so that a donor that sways is read once, pixels. */
const ROOM_PX = 8

interface Piece {
  readonly plate: Plate
  readonly frame: number
  /** What it holds for certain. */
  rect: Rect
  bytes: number
  readonly found: Promise<KeptRect>
}

/** Pieces of several plates. */
export class KeptPieces {
  /** The one that was used longest ago comes first. */
  readonly #pieces = new Set<Piece>()
  readonly #plates = new Map<Plate, Plate>()
  #bytes = 0

  constructor(readonly maxBytes: number = MAX_KEPT_BYTES) {}

  /** The same plate, read by way of what is kept of it; one plate for each. */
  of(plate: Plate): Plate {
    const kept: KeptLight = {
      read: (number, rect, room) => this.#read(plate, number, rect, room),
      gather: (frames, rect, options) => gather(plate, frames, rect, options),
    }
    const same = this.#plates.get(plate) ?? { ...plate, kept }
    this.#plates.set(plate, same)
    return same
  }

  async #read(plate: Plate, number: number, rect: Rect, room?: Room): Promise<Frame> {
    const seen = intersect(rect, plate.active)
    const holds = (p: Piece) => p.frame === number && p.plate === plate && contains(p.rect, seen)
    const piece = [...this.#pieces].find(holds) ?? this.#load(plate, number, seen)
    this.#pieces.delete(piece)
    this.#pieces.add(piece)
    return lightOf(await piece.found, rect, room)
  }

  #load(plate: Plate, number: number, rect: Rect): Piece {
    const piece: Piece = { plate, frame: number, rect, bytes: 0, found: find(plate, number, rect) }
    piece.found.then(
      (found) => {
        piece.rect = found.rect
        // It had to make room while it was read.
        if (!this.#pieces.has(piece)) return
        piece.bytes = found.halves.byteLength
        this.#bytes += piece.bytes
        this.#makeRoom()
      },
      // What could not be read may be there the next time.
      () => this.#pieces.delete(piece),
    )
    return piece
  }

  #makeRoom(): void {
    for (const piece of this.#pieces) {
      if (this.#bytes <= this.maxBytes) return
      this.#bytes -= piece.bytes
      this.#pieces.delete(piece)
    }
  }
}

/** @param rect the part of what is asked for that has picture; may be empty @throws as readRect */
async function find(plate: Plate, number: number, rect: Rect): Promise<KeptRect> {
  const room = readRectFor(plate, IDENTITY, rect, ROOM_PX)
  const cache = new RectCache(plate, rect)
  const kept = await cache.around(number)
  if (kept !== null) {
    if (kept.rect.w * kept.rect.h <= MAX_TIMES * rect.w * rect.h) return kept
    const part = intersect(room, kept.rect)
    const halves = cutHalves(kept.halves, kept.rect, part)
    cache.giveBack(kept.halves)
    return { rect: part, halves }
  }
  let came: Uint16Array | undefined
  // Heard to the end, by which it lies in the cache.
  for await (const { picture, error } of cachedHalves(plate, [number], room)) {
    if (picture === undefined) throw error
    came = picture.slice()
  }
  return { rect: room, halves: came! }
}

/** A part in linear light, a picture of its own; NaN where it reaches beyond. */
function lightOf({ rect: from, halves }: KeptRect, rect: Rect, room?: Room): Frame {
  const picture = frame(rect.h, rect.w, 3, room?.floats(3 * rect.w * rect.h))
  const { data } = picture
  const corner = ((rect.y - from.y) * from.w + rect.x - from.x) * 3
  if (contains(from, rect)) {
    const workspace = room?.workspace ?? codecs()
    halfValues(workspace, halves.subarray(corner), 3 * from.w, 3 * rect.w, data)
    return picture
  }
  const part = intersect(from, rect)
  data.fill(Number.NaN)
  for (let y = part.y; y < part.y + part.h; y++) {
    let at = ((y - from.y) * from.w + part.x - from.x) * 3
    let to = ((y - rect.y) * rect.w + part.x - rect.x) * 3
    for (const end = to + 3 * part.w; to < end; ) data[to++] = HALF_VALUES[halves[at++]]
  }
  return picture
}

/**
 * Of a movie what the cache lacks is decoded in one pass; and where the cache takes nothing, kept otherwise. Of a sequence
 * each frame is read when it is asked for.
 */
async function gather(
  plate: Plate,
  frames: readonly number[],
  rect: Rect,
  { onProgress, signal }: KeepOptions,
): Promise<() => Promise<void>> {
  const nothing = async () => {}
  const seen = intersect(rect, plate.active)
  if (!plate.streamed || seen.w === 0 || seen.h === 0) return nothing
  const missing = await lackedBy(new RectCache(plate, seen), frames)
  const came: number[] = []
  for await (const { frame, picture } of cachedHalves(plate, missing, seen)) {
    signal?.throwIfAborted()
    if (picture !== undefined) came.push(frame)
    onProgress?.({ phase: 'decoding the movie', done: came.length, total: missing.length })
  }
  const lost = await lackedBy(new RectCache(plate, seen), came)
  return lost.length === 0 ? nothing : keepRects(plate, lost, seen, { onProgress, signal })
}

async function lackedBy(cache: RectCache, frames: readonly number[]): Promise<number[]> {
  const lacked: number[] = []
  for (const frame of frames) if (!(await cache.has(frame))) lacked.push(frame)
  return lacked
}
