// The contract between a plate and the file formats it may be stored in.
import type { EncodingChoice } from '../colour/encoding.js'
import type { Frame } from '../raster/frame.js'
import type { Rect } from '../raster/rect.js'

/** How finely one channel is stored. */
export type BitDepth =
  | '8-bit'
  | '10-bit'
  | '12-bit'
  | '16-bit'
  | '32-bit'
  | 'half'
  | 'float'
  | (string & Record<never, never>)

/** What a frame's header says. */
export interface FrameInfo {
  /** Display window, pixels. Every rectangle and mask is counted from its top left pixel. */
  readonly width: number
  readonly height: number
  readonly bitDepth: BitDepth
  /** Channel names of the layer that would be read, as stored order or by name, e.g. ['R', 'G', 'B', 'A']. */
  readonly channels: readonly string[]
  /** Width of a pixel over its height; 1 for square pixels. */
  readonly pixelAspect: number
  /** Set only where the file itself says how its values stand for light. */
  readonly encodingHint?: EncodingChoice
  /** Where the file itself counts its display window from, if not from (0, 0). */
  readonly displayWindow?: Rect
  readonly framesPerSecond?: number
  /** `hh:mm:ss:ff` as the header has it. */
  readonly timeCode?: string
  /** The recording's own number of the frame, where the header has one. */
  readonly imageCounter?: number
  /** Channels of the file that are no part of the picture that is read. */
  readonly otherChannels?: readonly string[]
  /** Layers that `layer` may name, where the format has them. */
  readonly layers?: readonly string[]
  /** xy of red, green, blue, white, where the header has them. */
  readonly chromaticities?: readonly number[]
}

export interface ReadOptions {
  /** Which layer of a file with several; the main picture when left out. */
  readonly layer?: string
  /** What a pixel outside the data window reads as; 0 where it is left out, NaN for those who must tell it from black. */
  readonly outside?: number
  /** Room for halves of which each is written; new memory where it is left out. */
  readonly room?: HalfRoom
  /** Told of the header that is read on the way, before any pixel is: what it throws ends the reading. */
  readonly onHeader?: (info: FrameInfo) => void
}

/** Gives room for so many samples: memory that was used before costs less than new memory. */
export type HalfRoom = (samples: number) => Uint16Array

/**
 * One file format (or a family of them).
 *
 * Both functions throw an ordinary Error that says in a few words what is wrong with the file ("ends before its last
 * row"); the plate adds the file's name and the remedy. An OffcutError passes through unchanged, for the cases that
 * are the caller's doing, such as a layer that the file does not have.
 */
export interface FrameReader {
  /** File name endings, lower case, without the dot. */
  readonly formats: readonly string[]
  /** Some rows cost about their share of the frame; left out where all of it is decoded for any of it. */
  readonly byRows?: true
  /** A part costs about what all rows down to its last cost; left out likewise. */
  readonly downwards?: true
  /** Reads the header only; must be cheap enough to call on every frame of a plate. */
  probe(path: string, options?: ReadOptions): Promise<FrameInfo>
  /**
   * Reads `rect`, which lies inside the display window.
   *
   * @returns stored values, [rect.h, rect.w, 3], RGB (grey replicated, alpha dropped, pixels outside the data window
   *   `outside`): integers scaled so that the full range is 0 to 1, floats as stored, NaN and infinity kept. Not yet linear.
   */
  read(path: string, rect: Rect, options?: ReadOptions): Promise<Frame>
  /** Alpha of the picture that `read` reads; null where it has none. Left out by formats that have no alpha. */
  readAlpha?(path: string, rect: Rect, options?: ReadOptions): Promise<Alpha | null>
  /**
   * As `read`, of integers, with each put through a table: what many frames are read for, without floats in between.
   * For formats whose decoding is so quick that it matters.
   *
   * @param table an entry per code
   */
  readThrough?(path: string, rect: Rect, table: Uint16Array, options?: ReadOptions): Promise<Uint16Array>
  /**
   * As `read`, of half floats, as they are stored, NaN outside the data window; null where the file has its samples otherwise.
   * For formats that store them.
   */
  readHalves?(path: string, rect: Rect, options?: ReadOptions): Promise<Uint16Array | null>
  /**
   * As `readHalves`, of all of the frame or some of its rows, so many at a time.
   *
   * @returns whether the file has such samples; where it has not, `use` hears nothing
   */
  eachHalves?(path: string, use: HalfRows, options?: ReadOptions): Promise<boolean>
}

/** Who takes a frame in by its rows, from the top. */
export interface HalfRows {
  /** So many at a time; at the end what is left. */
  readonly rows: number
  /** The first row, and the one behind the last; left out: all. */
  readonly from?: number
  readonly to?: number
  /** @param halves [rows, width, 3]; of this thread's codecs, and written over when this returns @param y the first row */
  readonly take: (halves: Uint16Array, y: number) => void
}

/** A picture's alpha. */
export interface Alpha {
  /** As stored, row by row, 0 to 1 where it is integers; outside the data window `outside`, which is 0 by default. */
  readonly data: Float32Array
  /** True where the colours that are stored are multiplied by it. */
  readonly associated: boolean
}
