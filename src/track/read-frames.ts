// Reading one rectangle of all frames of a search: once, by way of the cache, as half floats.

import { OffcutError, printable } from '../errors.js'
import type { LaidFrames, Plate } from '../footage/plate.js'
import { hideAvoided } from '../footage/read-halves.js'
import { checkSizes } from '../footage/read-many.js'
import type { Delivery } from '../footage/source.js'
import { warpHalves } from '../kernels/warp.js'
import type { Rect } from '../raster/rect.js'
import { byFrame, type FrameKey, framesOf } from '../shot/frame-key.js'
import { untilAborted } from '../turns.js'
import { cachedHalves } from './cached-halves.js'
import type { Run } from './read-order.js'
import { readRectFor } from './read-rect-for.js'
import { pruneRectCache } from './rect-cache.js'

/** More broken frames than this share, and the plate itself is broken: the search ends with the list. */
const MAX_UNREADABLE = 0.5

/** What was made of a frame, or the sentence why it can't be read. */
export type Delivered<T> =
  | { readonly frame: number; readonly kept: T; readonly message?: undefined; readonly code?: undefined }
  | { readonly frame: number; readonly kept?: undefined; readonly message: string; readonly code: string }

/** What was kept of the frames that were read. */
export interface Kept<T> {
  /** In order of plate and frame. */
  readonly frames: readonly T[]
  /** Frames that could not be read, each with its sentence. */
  readonly unreadable: readonly (FrameKey & { readonly message: string })[]
}

/** A frame of one of several plates. */
export type Placed<T> = Delivered<T> & { readonly plate: number }

/** The same, and how far the reading is. */
export type Arrival<T> = Placed<T> & {
  readonly done: number
  readonly total: number
}

/**
 * Reads many frames and hands on what is made of each, as they come. A frame that can't be read comes with the reason.
 *
 * @param deliver reads all of them, in any order
 * @throws FRAME_SIZE, FRAME_DEPTH naming the first frame that is unlike its plate; FRAMES_UNREADABLE at the end where more
 *   than half of the frames can't be read; the abort reason when `signal` fires
 */
export async function* readEach<T>(
  plates: readonly Plate[],
  keys: readonly FrameKey[],
  deliver: () => AsyncGenerator<Placed<T>>,
  signal?: AbortSignal,
): AsyncGenerator<Arrival<T>, void> {
  const unreadable: (FrameKey & { message: string })[] = []
  let done = 0
  signal?.throwIfAborted()
  for await (const one of untilAborted(deliver(), signal)) {
    const { plate, frame, message } = one
    if (one.code === 'FRAME_SIZE' || one.code === 'FRAME_DEPTH') {
      // The first in order is named, whichever was met first.
      await checkSizes(plates[plate], { frames: framesOf(keys, plate) })
      throw new OffcutError(one.code, one.message)
    }
    if (message !== undefined) unreadable.push({ plate, frame, message })
    yield { ...one, done: ++done, total: keys.length }
  }
  await pruneRectCache()
  if (unreadable.length > MAX_UNREADABLE * keys.length) {
    const list = unreadable.sort(byFrame).slice(0, 8)
    const sentences = list.map((u) => `\n  ${printable(u.message)}`)
    throw new OffcutError(
      'FRAMES_UNREADABLE',
      `${unreadable.length} of ${keys.length} frames can't be read, so the search stops:${sentences.join('')}`,
      1,
    )
  }
}

/** What `deliver` makes of one run after the other. */
export async function* runByRun<T>(
  runs: Iterable<Run>,
  deliver: (run: Run) => AsyncGenerator<Delivered<T>>,
): AsyncGenerator<Placed<T>> {
  for (const run of runs) for await (const one of deliver(run)) yield { ...one, plate: run.plate }
}

/** Keeps all that comes. @throws whatever `arrivals` throws */
export async function keepAll<T extends FrameKey>(arrivals: AsyncIterable<Arrival<T>>): Promise<Kept<T>> {
  const kept = new Keeper<T>()
  for await (const one of arrivals) kept.add(one)
  return kept.all()
}

/** Keeps frames as they come, and has them in order. */
export class Keeper<T extends FrameKey> {
  readonly #frames: T[] = []
  readonly #unreadable: (FrameKey & { message: string })[] = []

  add(one: Arrival<T>): void {
    if (one.message === undefined) this.#frames.push(one.kept)
    else this.#unreadable.push({ plate: one.plate, frame: one.frame, message: one.message })
  }

  all(): Kept<T> {
    return { frames: this.#frames.sort(byFrame), unreadable: this.#unreadable.sort(byFrame) }
  }
}

/**
 * Reads the same rectangle of many frames of a plate.
 *
 * @param see gets the rectangle as linear RGB halves, which it must not keep
 */
export async function* readAndSee<T>(
  plate: Plate,
  index: number,
  frames: readonly number[],
  rect: Rect,
  see: (key: FrameKey, linear: Uint16Array) => T,
): AsyncGenerator<Delivered<T>> {
  for await (const { frame, picture: halves, error } of keptHalves(plate, frames, rect)) {
    if (halves === undefined) yield { frame, message: error.message, code: error.code }
    else yield { frame, kept: see({ plate: index, frame }, halves) }
  }
}

/**
 * A rectangle of many frames as halves, without what is not to be seen of them; of a laid plate as they lie on its grid.
 * Halves last until the next are asked for.
 */
export async function* keptHalves(
  plate: Plate,
  frames: readonly number[],
  rect: Rect,
): AsyncGenerator<Delivery<Uint16Array>> {
  if (plate.laid !== undefined) {
    yield* laidHalves(plate.laid, frames, rect)
    return
  }
  for await (const delivery of cachedHalves(plate, frames, rect)) {
    const { frame, picture } = delivery
    if (picture === undefined || !plate.avoided?.has(frame)) {
      yield delivery
      continue
    }
    // What was decoded is still being written to the cache, which keeps all of it.
    const seen = picture.slice()
    hideAvoided(plate, frame, rect, seen)
    yield { frame, picture: seen }
  }
}

/** Room round what is read, pixels: poses that are refined later still find all of it. */
const LAID_ROOM_PX = 24

/** A rectangle of the grid, from frames that lie on it by their poses. Those that want the same of the plate are read together. */
async function* laidHalves(
  { plate, poses }: LaidFrames,
  frames: readonly number[],
  rect: Rect,
): AsyncGenerator<Delivery<Uint16Array>> {
  const groups = new Map<string, { rect: Rect; frames: number[] }>()
  for (const frame of frames) {
    // A movie is decoded in one pass, so all that any frame needs is read of each.
    const needed = plate.streamed ? plate.active : readRectFor(plate, poses.get(frame)!, rect, LAID_ROOM_PX)
    const key = `${needed.x} ${needed.y} ${needed.w} ${needed.h}`
    const group = groups.get(key) ?? { rect: needed, frames: [] }
    groups.set(key, group)
    group.frames.push(frame)
  }
  for (const group of groups.values()) {
    for await (const delivery of keptHalves(plate, group.frames, group.rect)) {
      const { frame, picture } = delivery
      yield picture === undefined
        ? delivery
        : { frame, picture: warpHalves(picture, group.rect, poses.get(frame)!, rect) }
    }
  }
}

/** A rectangle of one frame, linear RGB as halves, by way of the cache. @throws as readRect */
export async function readOneHalf(plate: Plate, frame: number, rect: Rect): Promise<Uint16Array> {
  let found: Delivery<Uint16Array> | undefined
  for await (const delivered of keptHalves(plate, [frame], rect))
    found = delivered.picture ? { frame, picture: delivered.picture.slice() } : delivered
  if (found?.picture === undefined) throw found?.error
  return found.picture
}
