// Reading one rectangle of all frames of a search: once, by way of the cache, as half floats.

import { decode } from '../colour/transfer.js'
import { OffcutError, printable } from '../errors.js'
import { type Plate, voidOutside } from '../footage/plate.js'
import { checkSizes, READ_AHEAD, readRects, readRectsThrough } from '../footage/read-many.js'
import { sourceOf } from '../footage/source.js'
import { floatsToHalves, HALF_MAX, HALF_NAN } from '../raster/half.js'
import type { Rect } from '../raster/rect.js'
import { byFrame, type FrameKey, framesOf } from '../shot/frame-key.js'
import { untilAborted } from '../turns.js'
import { pruneRectCache, RectCache } from './rect-cache.js'

/** More broken frames than this share, and the plate itself is broken: the search ends with the list. */
const MAX_UNREADABLE = 0.5

/** What was made of a frame, or the sentence why it can't be read. */
export type Delivered<T> =
  | { readonly frame: number; readonly kept: T; readonly message?: undefined }
  | { readonly frame: number; readonly kept?: undefined; readonly message: string }

/** What was kept of the frames that were read. */
export interface Kept<T> {
  /** In order of plate and frame. */
  readonly frames: readonly T[]
  /** Frames that could not be read, each with its sentence. */
  readonly unreadable: readonly (FrameKey & { readonly message: string })[]
}

/** A frame of some plate, and how far the reading is. */
export type Arrival<T> = Delivered<T> & {
  readonly plate: number
  readonly done: number
  readonly total: number
}

/**
 * Reads many frames and hands on what is made of each, as they come. A frame that can't be read comes with the reason.
 *
 * @param deliver reads frames of one plate, in any order
 * @throws FRAME_SIZE, FRAME_DEPTH naming the first frame that is unlike its plate; FRAMES_UNREADABLE at the end where more
 *   than half of the frames can't be read; the abort reason when `signal` fires
 */
export async function* readEach<T>(
  plates: readonly Plate[],
  keys: readonly FrameKey[],
  deliver: (plate: Plate, index: number, frames: readonly number[]) => AsyncGenerator<Delivered<T>>,
  signal?: AbortSignal,
): AsyncGenerator<Arrival<T>, void> {
  const unreadable: (FrameKey & { message: string })[] = []
  let done = 0
  for (const [index, plate] of plates.entries()) {
    signal?.throwIfAborted()
    await checkSizes(plate)
    const wanted = framesOf(keys, index)
    for await (const one of untilAborted(deliver(plate, index, wanted), signal)) {
      if (one.message !== undefined) unreadable.push({ plate: index, frame: one.frame, message: one.message })
      yield { ...one, plate: index, done: ++done, total: keys.length }
    }
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

/** Keeps all that comes. @throws as `arrivals` */
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
  for await (const { frame, halves, error } of readHalves(plate, frames, rect)) {
    if (halves === undefined) yield { frame, message: error.message }
    else yield { frame, kept: see({ plate: index, frame }, halves) }
  }
}

/**
 * Linear light from which a channel of this plate counts as clipped: just below what full code value decodes to. Floats,
 * and the 32-bit integers of an EXR, which are read by their number, have no full code value.
 */
export function clipLevel(plate: Plate): number {
  if (['half', 'float', '32-bit'].includes(plate.bitDepth)) return Number.POSITIVE_INFINITY
  return decode(1, plate.encoding) * (1 - 2 ** -9)
}

type Halves =
  | { readonly frame: number; readonly halves: Uint16Array; readonly error?: undefined }
  | { readonly frame: number; readonly halves?: undefined; readonly error: OffcutError }

/**
 * A rectangle of many frames as halves: what the cache has of them first, then the rest as they are decoded. Halves last
 * until the next are asked for.
 */
export async function* readHalves(
  plate: Plate,
  frames: readonly number[],
  rect: Rect,
): AsyncGenerator<Halves> {
  const cache = new RectCache(plate, rect)
  const missing: number[] = []
  for (let i = 0; i < frames.length; i += READ_AHEAD) {
    const some = frames.slice(i, i + READ_AHEAD)
    const found = await Promise.all(some.map((frame) => cache.get(frame)))
    for (const [k, halves] of found.entries()) {
      if (halves === null) missing.push(some[k])
      else {
        yield { frame: some[k], halves }
        cache.giveBack(halves)
      }
    }
  }
  const stamps = new Map<number, Buffer | null>()
  const pending = new Set<Promise<void>>()
  for (const frame of missing) stamps.set(frame, await cache.stamp(frame))
  for await (const delivery of readLinear(plate, missing, rect)) {
    const { frame, halves } = delivery
    if (halves !== undefined) {
      // Written while the next frames are decoded, a few at a time.
      const writing: Promise<void> = cache.put(frame, stamps.get(frame) ?? null, halves).finally(() => {
        pending.delete(writing)
      })
      pending.add(writing)
      if (pending.size > READ_AHEAD) await Promise.race(pending)
    }
    yield delivery
  }
  await Promise.all(pending)
  await cache.touch()
}

async function* readLinear(plate: Plate, frames: readonly number[], rect: Rect): AsyncGenerator<Halves> {
  const table = tableOf(plate)
  if (table !== undefined) {
    for await (const { frame, picture, error } of readRectsThrough(plate, frames, rect, table)) {
      if (picture) voidOutside(plate.active, rect, picture, HALF_NAN)
      yield picture ? { frame, halves: picture } : { frame, error }
    }
    return
  }
  for await (const { frame, picture, error } of readRects(plate, frames, rect))
    yield picture ? { frame, halves: boundedHalves(picture.data) } : { frame, error }
}

/** A rectangle of one frame, linear RGB as halves, by way of the cache. @throws as readRect */
export async function readOneHalf(plate: Plate, frame: number, rect: Rect): Promise<Uint16Array> {
  let found: Halves | undefined
  for await (const delivered of readHalves(plate, [frame], rect))
    found = delivered.halves ? { frame, halves: delivered.halves.slice() } : delivered
  if (found?.halves === undefined) throw found?.error
  return found.halves
}

/** Halves of linear light, bounded in place. */
function boundedHalves(linear: Float32Array): Uint16Array {
  for (let i = 0; i < linear.length; i++) {
    // Above a half's range stays bright instead of becoming infinite; NaN fails both tests and stays NaN.
    if (linear[i] > HALF_MAX && linear[i] < Number.POSITIVE_INFINITY) linear[i] = HALF_MAX
    else if (linear[i] < -HALF_MAX && linear[i] > Number.NEGATIVE_INFINITY) linear[i] = -HALF_MAX
  }
  const halves = new Uint16Array(linear.length)
  floatsToHalves(linear, halves)
  return halves
}

const tables = new Map<string, Uint16Array>()

/** The half of every code that an integer plate can hold; undefined for floats. */
function tableOf(plate: Plate): Uint16Array | undefined {
  const { levels } = sourceOf(plate)
  if (levels === undefined) return undefined
  const { encoding } = plate
  const key = `${encoding} ${levels}`
  let table = tables.get(key)
  if (table === undefined) {
    table = boundedHalves(
      Float32Array.from({ length: levels + 1 }, (_, code) => decode(code / levels, encoding)),
    )
    tables.set(key, table)
  }
  return table
}
