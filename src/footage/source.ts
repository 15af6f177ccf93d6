// What stands behind a plate: where its code values come from, one picture file per frame or one movie for all.
import { statSync } from 'node:fs'
import { OffcutError, outOfMemory, plateError } from '../errors.js'
import type { OnProgress } from '../progress.js'
import type { Frame } from '../raster/frame.js'
import type { Rect } from '../raster/rect.js'
import type { Alpha, FrameInfo, HalfRoom, HalfRows } from './reader.js'

/** A frame that was read, or why it could not be. */
export type Delivery<T> =
  | { readonly frame: number; readonly picture: T; readonly error?: undefined }
  | { readonly frame: number; readonly picture?: undefined; readonly error: OffcutError }

export interface KeepOptions {
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/** Code values of a plate; rectangles and frame numbers have been checked before they come here. */
export interface Source {
  /** Some rows of a frame cost about their share of it. */
  readonly byRows: boolean
  /** A part of a frame costs about what all rows down to its last cost. */
  readonly downwards: boolean
  /** @param outside see ReadOptions; @throws FRAME_UNREADABLE, FRAME_SIZE */
  readonly read: (frame: number, rect: Rect, outside?: number) => Promise<Frame>
  /** As `read`, with each code put through a table: where the format offers it. @throws as `read` */
  readonly readThrough?: (frame: number, rect: Rect, table: Uint16Array) => Promise<Uint16Array>
  /** As `read`, of half floats as they are stored; null where the file has its samples otherwise. @throws as `read` */
  readonly readHalves?: (frame: number, rect: Rect, room?: HalfRoom) => Promise<Uint16Array | null>
  /** As `readHalves`, of all of a frame, some rows at a time: see FrameReader. @throws as `read` */
  readonly eachHalves?: (frame: number, use: HalfRows) => Promise<boolean>
  /** The frame's alpha; null where it has none. Absent where the format has no alpha. @throws as `read` */
  readonly readAlpha?: (frame: number, rect: Rect) => Promise<Alpha | null>
  /** Looks at a frame's header only. @throws FRAME_UNREADABLE, FRAME_SIZE */
  readonly check: (frame: number) => Promise<void>
  /** What a frame's header says. @throws FRAME_UNREADABLE */
  readonly header: (frame: number) => Promise<FrameInfo>
  /** Where reading many frames at once is cheaper than one by one. Ends early where the consumer stops. */
  readonly readMany?: (frames: readonly number[], rect: Rect) => AsyncGenerator<Delivery<Frame>>
  /**
   * Sees to it that coming back to these frames costs little, for `read` and `readMany` of any part of the rectangle, until
   * the function that is returned is called. Where reading one frame takes decoding others they are decoded in one pass;
   * otherwise what is read of them is kept as long as there is room. A frame that can't be read is left to `read`.
   */
  readonly keep?: (
    frames: readonly number[],
    rect: Rect,
    options: KeepOptions,
  ) => Promise<() => Promise<void>>
  /** Largest integer of the stored samples; undefined for floats. */
  readonly levels?: number
  /** The samples are made of integers but lie between the codes. */
  readonly between?: boolean
}

/** How a plate, its frames and their files are named. */
export interface Named {
  /** Opens this plate again; absolute. */
  readonly spec: string
  /** For people: `quay.####.png`. */
  readonly name: string
  /** Absolute. */
  readonly folder: string
  /** Frame numbers that are there, ascending. A movie's first frame is 1. */
  readonly frames: readonly number[]
  /** The file of a frame. @throws FRAME_MISSING */
  pathOf(frame: number): string
  /** For naming what is made of it: its name without frame number and ending, or its folder's where that is all. */
  readonly stem: string
  /** A frame's number as the plate's own files are named by it: `0007`. */
  numberOf(frame: number): string
}

/** What opening a plate's files finds out, before an encoding is chosen. */
export interface Opened extends Named {
  readonly info: FrameInfo
  readonly format: string
  readonly source: Source
}

export function missing(plate: Pick<Named, 'spec' | 'frames'>, frame: number): OffcutError {
  const [first, last] = [plate.frames[0]!, plate.frames.at(-1)!]
  const range = `it has ${first} to ${last}${frame > first && frame < last ? ' with gaps' : ''}`
  return plateError('FRAME_MISSING', plate.spec, `has no frame ${frame}`, range)
}

/** Wraps whatever a reader threw; errors that already say which file and what to do pass through. */
export function unreadable(path: string, cause: unknown): OffcutError {
  if (cause instanceof OffcutError) return cause
  const lacking = outOfMemory(cause)
  if (lacking !== null) return lacking
  const said = cause instanceof Error ? cause.message : String(cause)
  // libraries repeat the file's name and end their sentences; ours has both already
  const short = said
    .replaceAll(path, '')
    .replace(/^[:\s]+|[.\s]+$/g, '')
    .replace(/\s*\n\s*/g, '; ')
  // What a codec says of nothing at all helps nobody; it is what a copy under way leaves, or a disk that was full.
  const size = statSync(path, { throwIfNoEntry: false })?.size
  const what =
    size === 0 ? 'the file is empty' : /^(unknown error)?$/i.test(short) ? 'it seems damaged' : short
  return plateError('FRAME_UNREADABLE', path, `can't be read (${what})`, 'render or copy it again', {
    cause,
  })
}
