// Reading one rectangle of many frames, and looking at the headers of a whole plate.

import { OffcutError, OUT_OF_MEMORY } from '../errors.js'
import type { OnProgress } from '../progress.js'
import type { Frame } from '../raster/frame.js'
import type { Rect } from '../raster/rect.js'
import { asTheyCome } from './as-they-come.js'
import { checkRect, type Plate, toLinear, voidOutside } from './plate.js'
import type { HalfRoom } from './reader.js'
import { type Delivery, type KeepOptions, unreadable } from './source.js'

/** Frames that are being read at once, and so held in memory at once: as many as Node has threads for files. */
export const READ_AHEAD = 4
/** Headers that are looked at at once: mostly waiting for a server, so more than there are cores. */
const HEADERS_AT_ONCE = 16

/**
 * Reads the same rectangle of many frames in linear light, several at a time; a movie is decoded in one stream instead.
 * Pictures come as they get ready, not in the order of `frames`. A frame that can't be read, or is not there, comes
 * with its error, and the others go on. Stopping early (break) stops the reading.
 *
 * @param frames frame numbers, each once
 * @param rect   whole pixels of the display window, inside it
 * @returns NaN where there is no picture, as readRect
 * @throws RECT_OUTSIDE
 */
export async function* readRects(
  plate: Plate,
  frames: Iterable<number>,
  rect: Rect,
): AsyncGenerator<Delivery<Frame>> {
  const { kept } = plate
  if (kept !== undefined) {
    const { there, absent } = sorted(plate, frames, rect)
    yield* absent
    const release = await kept.gather(there, rect, {})
    try {
      yield* asTheyCome(there, READ_AHEAD, (frame) => deliver(plate, frame, () => kept.read(frame, rect)))
    } finally {
      await release()
    }
    return
  }
  for await (const delivery of readCodeRects(plate, frames, rect, Number.NaN)) {
    if (delivery.picture !== undefined)
      voidOutside(plate.active, rect, toLinear(plate, delivery.picture).data, Number.NaN)
    yield delivery
  }
}

/** As readRects, but the code values as they are stored, 0 to 1 where they are integers; bars too. */
export async function* readCodeRects(
  plate: Plate,
  frames: Iterable<number>,
  rect: Rect,
  outside = 0,
): AsyncGenerator<Delivery<Frame>> {
  const source = plate.source
  const { there, absent } = sorted(plate, frames, rect)
  yield* absent
  yield* source.readMany
    ? source.readMany(there, rect)
    : asTheyCome(there, READ_AHEAD, (frame) => deliver(plate, frame, () => source.read(frame, rect, outside)))
}

/**
 * As readCodeRects, of integers, with each code put through a table: on the way where the plate's format offers it.
 *
 * @param table an entry per code, the plate's levels + 1
 */
export async function* readRectsThrough(
  plate: Plate,
  frames: Iterable<number>,
  rect: Rect,
  table: Uint16Array,
): AsyncGenerator<Delivery<Uint16Array>> {
  const { readThrough } = plate.source
  if (readThrough === undefined) {
    for await (const { frame, picture, error } of readCodeRects(plate, frames, rect))
      yield picture ? { frame, picture: throughTable(picture.data, table) } : { frame, error }
    return
  }
  const { there, absent } = sorted(plate, frames, rect)
  yield* absent
  yield* asTheyCome(there, READ_AHEAD, (frame) =>
    deliver(plate, frame, () => readThrough(frame, rect, table)),
  )
}

/**
 * As readCodeRects, of half floats as they are stored where the plate's format has such; what is stored otherwise goes
 * through `convert`.
 *
 * @param room see ReadOptions
 * @returns null where the plate has none
 */
export function readStoredHalves(
  plate: Plate,
  frames: Iterable<number>,
  rect: Rect,
  convert: (codes: Float32Array) => Uint16Array,
  room?: HalfRoom,
): AsyncGenerator<Delivery<Uint16Array>> | null {
  const { readHalves, read } = plate.source
  // A plate of floats would be opened twice a frame only to learn that.
  if (readHalves === undefined || plate.bitDepth !== 'half') return null
  const { there, absent } = sorted(plate, frames, rect)
  const one = async (frame: number) =>
    (await readHalves(frame, rect, room)) ?? convert((await read(frame, rect, Number.NaN)).data)
  return (async function* () {
    yield* absent
    yield* asTheyCome(there, READ_AHEAD, (frame) => deliver(plate, frame, () => one(frame)))
  })()
}

/** @param codes 0 to 1 */
function throughTable(codes: Readonly<Float32Array>, table: Uint16Array): Uint16Array {
  const levels = table.length - 1
  const out = new Uint16Array(codes.length)
  for (let i = 0; i < codes.length; i++) out[i] = table[(codes[i] * levels + 0.5) | 0]
  return out
}

/**
 * Sees to it that reading any part of a rectangle of these frames, in any order, costs little: those of a movie are decoded
 * in one pass and kept in the temporary folder, about three samples a pixel. What is read of files by the frame is kept in
 * memory, as far as 128 MiB go. What is at hand already (see Plate.kept) is not read at all.
 *
 * @returns what to call when they are no longer needed
 * @throws FRAME_MISSING, RECT_OUTSIDE, the abort reason
 */
export async function keepRects(
  plate: Plate,
  frames: readonly number[],
  rect: Rect,
  options: KeepOptions = {},
): Promise<() => Promise<void>> {
  for (const frame of frames) plate.pathOf(frame)
  checkRect(plate, rect)
  const { kept, source } = plate
  if (kept !== undefined) return kept.gather(frames, rect, options)
  return (await source.keep?.(frames, rect, options)) ?? (async () => {})
}

/** Which of the frames are there, and for the others the error that says so. @throws RECT_OUTSIDE */
function sorted(plate: Plate, frames: Iterable<number>, rect: Rect) {
  checkRect(plate, rect)
  const all = new Set(plate.frames)
  const there: number[] = []
  const absent: { frame: number; error: OffcutError }[] = []
  for (const frame of frames) {
    if (all.has(frame)) there.push(frame)
    else absent.push({ frame, error: errorOf(() => plate.pathOf(frame)) })
  }
  return { there, absent }
}

/**
 * Looks at frames' headers, each of which is read once.
 *
 * @param frames of the plate; left out: all
 * @returns frames whose header can't be read, ascending, with the reason: the caller decides how many are too many
 * @throws FRAME_SIZE or FRAME_DEPTH for the first frame (lowest number) that is unlike the plate
 */
export async function checkSizes(
  plate: Plate,
  {
    frames = plate.frames,
    onProgress,
  }: { readonly frames?: readonly number[]; readonly onProgress?: OnProgress } = {},
): Promise<{ frame: number; error: OffcutError }[]> {
  const source = plate.source
  const broken: { frame: number; error: OffcutError }[] = []
  let odd: { frame: number; error: OffcutError } | undefined
  let done = 0
  const checked = asTheyCome(frames, HEADERS_AT_ONCE, async (frame) => {
    try {
      await source.check(frame)
      return { frame }
    } catch (cause) {
      return { frame, error: unreadable(plate.pathOf(frame), cause) }
    }
  })
  for await (const { frame, error } of checked) {
    onProgress?.({ phase: 'looking at headers', done: ++done, total: frames.length })
    if (error === undefined) continue
    if (error.code === 'FRAME_UNREADABLE') broken.push({ frame, error })
    else if (odd === undefined || frame < odd.frame) odd = { frame, error }
  }
  if (odd !== undefined) throw odd.error
  return broken.sort((a, b) => a.frame - b.frame)
}

async function deliver<T>(plate: Plate, frame: number, read: () => Promise<T>): Promise<Delivery<T>> {
  try {
    return { frame, picture: await read() }
  } catch (cause) {
    const error = unreadable(plate.pathOf(frame), cause)
    // It is not the frame's fault, and what is made without it would be something else.
    if (error.code === OUT_OF_MEMORY) throw error
    return { frame, error }
  }
}

function errorOf(failing: () => unknown): OffcutError {
  try {
    failing()
  } catch (error) {
    if (error instanceof OffcutError) return error
    throw error
  }
  throw new TypeError('expected an error')
}
