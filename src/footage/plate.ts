// A plate: one image sequence or movie as shot, and reading a rectangle of one of its frames in linear light.
import { chooseEncoding, type Encoding } from '../colour/encoding.js'
import { decode, decodeInPlace } from '../colour/transfer.js'
import { plateError } from '../errors.js'
import type { Held, Workspace } from '../kernels/workspace.js'
import type { Frame } from '../raster/frame.js'
import { HALF_NAN } from '../raster/half.js'
import { contains, intersect, isEmpty, type Rect } from '../raster/rect.js'
import type { Transform } from '../raster/transform.js'
import type { StoredBlocks } from './exr/stored.js'
import { locatePlate } from './locate.js'
import { gapsIn } from './naming.js'
import type { Alpha, FrameInfo, HalfRows } from './reader.js'
import { openSequence } from './sequence.js'
import { type KeepOptions, type Named, type Opened, type Source, unreadable } from './source.js'

export interface Plate extends Named {
  readonly first: number
  readonly last: number
  /** Runs of numbers between first and last that are missing. */
  readonly gaps: readonly { readonly first: number; readonly last: number }[]
  /** Display window, pixels. */
  readonly width: number
  readonly height: number
  /** Width of a pixel over its height. */
  readonly pixelAspect: number
  /** What of the display window holds picture: all of it, unless it was opened with less (see findActive). */
  readonly active: Rect
  /** File name ending, lower case, without the dot. */
  readonly format: string
  readonly bitDepth: string
  readonly encoding: Encoding
  /** Why this encoding: a few words for `survey` and the sheet. */
  readonly encodingWhy: string
  readonly layer?: string
  /** What the header of the first readable frame says. */
  readonly info: FrameInfo
  /** Largest code of its samples; undefined for floats, and where samples lie between codes. */
  readonly levels: number | undefined
  /** Linear light from which a channel counts as clipped; infinite where samples have no full code value. */
  readonly clipLevel: number
  /** Frames come out of one stream: reading many in their order is far cheaper than one by one. */
  readonly streamed: boolean
  /** A frame's header, read once; of a movie, what the movie says of that frame. @throws FRAME_MISSING, FRAME_UNREADABLE */
  headerOf(frame: number): Promise<FrameInfo>
  /** Where its samples come from: for the readers of this folder, see readRect, readRects and readHalves. */
  readonly source: Source
  /** Of a plate whose frames are read as they lie on another frame's pixels, and what of them is not to be seen. */
  readonly laid?: LaidFrames
  /** What of its frames is not to be seen, as where an actor stands: read as halves it has no sample there. */
  readonly avoided?: ReadonlyMap<number, Avoided>
  /** Who has linear light of its frames at hand, good to a half float: readRect and readRects ask there, not its files. */
  readonly kept?: KeptLight
}

/** A part of a frame that is not to be seen: 1 per pixel of a rectangle, row-major. */
interface Avoided {
  readonly rect: Rect
  readonly bits: Uint8Array
}

/** Linear light of a plate's frames, from what was read of them before where that can be. */
export interface KeptLight {
  /** As readRect, of a rectangle and a frame that have been checked. @throws as readRect */
  readonly read: (frame: number, rect: Rect, room?: Room) => Promise<Frame>
  /** As keepRects. */
  readonly gather: (
    frames: readonly number[],
    rect: Rect,
    options: KeepOptions,
  ) => Promise<() => Promise<void>>
}

/** Where a picture may be put: in a workspace, which lends memory for its samples. */
export interface Room extends Pick<Held, 'floats'> {
  readonly workspace: Workspace
}

/** How frames of a plate lie on a common grid. */
export interface LaidFrames {
  /** As it was shot. */
  readonly plate: Plate
  /** Takes a frame's pixels to the grid; of all its frames. */
  readonly poses: ReadonlyMap<number, Transform>
}

export interface OpenOptions {
  /** `auto` (the default) or one of ENCODINGS. */
  readonly encoding?: string
  /** Layer of a file with several. */
  readonly layer?: string
  /** What of the display window holds picture; all of it where left out. */
  readonly active?: Rect
}

/**
 * Opens a plate by a folder, any one of its frames, a printf or # pattern, a glob or a movie file. Reads the names and
 * one header, no pixels; checkSizes looks at every header.
 *
 * @throws PLATE_NOT_FOUND, PLATE_EMPTY, PLATE_UNSUPPORTED, PLATE_AMBIGUOUS, PLATE_DUPLICATE, FOLDER_UNREADABLE,
 *   FRAME_UNREADABLE, MOVIE_NEEDS_FFMPEG, MOVIE_UNREADABLE, MISUSE (an unknown encoding)
 */
export async function openPlate(
  spec: string,
  { encoding = 'auto', layer, active }: OpenOptions = {},
): Promise<Plate> {
  // an unknown encoding is refused before any file is looked for
  chooseEncoding(encoding, { format: '' })
  const located = await locatePlate(spec)
  const opened =
    located.kind === 'movie'
      ? await (await import('./movie/movie.js')).openMovie(located.spec)
      : await openSequence(located, layer)
  return plateOf(opened, encoding, layer, active)
}

function plateOf(
  opened: Opened,
  asked: string,
  layer: string | undefined,
  active: Rect = { x: 0, y: 0, w: opened.info.width, h: opened.info.height },
): Plate {
  const { source, info, frames, format } = opened
  const { encoding, why } = chooseEncoding(asked, { format, hint: info.encodingHint })
  return {
    spec: opened.spec,
    name: opened.name,
    folder: opened.folder,
    frames,
    first: frames[0]!,
    last: frames.at(-1)!,
    gaps: gapsIn(frames),
    width: info.width,
    height: info.height,
    pixelAspect: info.pixelAspect,
    active,
    format,
    bitDepth: info.bitDepth,
    encoding,
    encodingWhy: why,
    ...(layer === undefined ? {} : { layer }),
    info,
    levels: source.levels,
    clipLevel: clipLevelOf(info.bitDepth, encoding),
    streamed: source.readMany !== undefined,
    headerOf: async (frame) => {
      opened.pathOf(frame)
      return source.header(frame)
    },
    source,
    pathOf: opened.pathOf,
    stem: opened.stem,
    numberOf: opened.numberOf,
  }
}

/**
 * Just below what full code value decodes to. Floats, and the 32-bit integers of an EXR, which are read by their number,
 * have no full code value.
 */
function clipLevelOf(bitDepth: string, encoding: Encoding): number {
  if (['half', 'float', '32-bit'].includes(bitDepth)) return Number.POSITIVE_INFINITY
  return decode(1, encoding) * (1 - 2 ** -9)
}

/**
 * The same plate as it is seen on a common grid: reading halves of it (see src/track/read-frames.ts) gives frames moved by
 * their poses.
 *
 * @param poses of the frames that are followed; it has no others
 * @param grid  the plate whose pixels are the grid
 */
export function laidOn(
  plate: Plate,
  poses: ReadonlyMap<number, Transform>,
  grid: Pick<Plate, 'width' | 'height' | 'active'>,
): Plate {
  const { width, height, active } = grid
  const frames = plate.frames.filter((f) => poses.has(f))
  return { ...plate, frames, width, height, active, laid: { plate, poses } }
}

/** The same plate with less of its frame held to be picture. */
export function withActive(plate: Plate, active: Rect): Plate {
  return { ...plate, active }
}

/**
 * A rectangle of one frame in linear light. For many frames readRects is faster, for movies by far.
 *
 * @param rect whole pixels of the display window, inside it
 * @param room used where light is at hand already (see Plate.kept); what is decoded lies where its reader puts it
 * @returns [rect.h, rect.w, 3]; NaN where there is no picture (outside the data window or `active`); NaN and infinity of
 *   float files are kept
 * @throws FRAME_MISSING, FRAME_UNREADABLE, FRAME_SIZE and FRAME_DEPTH (the frame is unlike the plate), RECT_OUTSIDE
 */
export async function readRect(plate: Plate, frame: number, rect: Rect, room?: Room): Promise<Frame> {
  plate.pathOf(frame)
  checkRect(plate, rect)
  if (plate.kept !== undefined) return plate.kept.read(frame, rect, room)
  const picture = toLinear(plate, await plate.source.read(frame, rect, Number.NaN))
  voidOutside(plate.active, rect, picture.data, Number.NaN)
  return picture
}

/**
 * All of a frame or some of its rows as the half floats that its file has, so many at a time that nothing as large as the frame
 * is made.
 *
 * @param use takes in rows as FrameReader has them; NaN where readRect has it
 * @returns whether the file has such; where it has not, or where its light is at hand otherwise, `use` hears nothing
 * @throws as readRect
 */
export async function eachHalfRows(plate: Plate, frame: number, use: HalfRows): Promise<boolean> {
  plate.pathOf(frame)
  const { kept, encoding, bitDepth, active, width: w, source } = plate
  if (kept !== undefined || encoding !== 'linear' || bitDepth !== 'half') return false
  const take: HalfRows['take'] = (halves, y) => {
    voidOutside(active, { x: 0, y, w, h: halves.length / (3 * w) }, halves, HALF_NAN)
    use.take(halves, y)
  }
  return (await source.eachHalves?.(frame, { ...use, take })) ?? false
}

/** Alpha of a rectangle of one frame, as readCodeRect has its colours; null where it has none. @throws as readRect */
export async function readAlpha(plate: Plate, frame: number, rect: Rect): Promise<Alpha | null> {
  plate.pathOf(frame)
  checkStoredRect(plate, rect)
  return (await plate.source.readAlpha?.(frame, rect)) ?? null
}

/** A frame's blocks as they lie in its file; null where it is no EXR, or none that holds what writeExr would. @throws as readRect */
export async function readStoredBlocks(plate: Plate, frame: number): Promise<StoredBlocks | null> {
  const path = plate.pathOf(frame)
  if (plate.format !== 'exr') return null
  await plate.source.check(frame)
  try {
    return await (await import('./exr/stored.js')).readStored(path, plate.layer)
  } catch (cause) {
    throw unreadable(path, cause)
  }
}

/**
 * As readRect, but the code values as they are stored, 0 to 1 where they are integers; bars too, 0 outside the data window. Of
 * an EXR the rectangle may reach beyond the display window, where there may be picture, too.
 */
export async function readCodeRect(plate: Plate, frame: number, rect: Rect): Promise<Frame> {
  plate.pathOf(frame)
  checkStoredRect(plate, rect)
  return plate.source.read(frame, rect)
}

/** Decodes a picture that came from the plate's source, in place. */
export function toLinear(plate: Plate, picture: Frame): Frame {
  const { levels, between } = plate.source
  decodeInPlace(picture.data, plate.encoding, { levels, between })
  return picture
}

/** Writes a value for no picture over what of a rectangle lies outside the active part. @param data three per pixel */
export function voidOutside(
  active: Rect,
  rect: Rect,
  data: Float32Array | Uint16Array,
  nothing: number,
): void {
  if (contains(active, rect)) return
  const { x, w } = intersect(active, rect)
  for (let y = 0, row = 0; y < rect.h; y++, row += 3 * rect.w) {
    const inside = rect.y + y >= active.y && rect.y + y < active.y + active.h && w > 0
    const left = inside ? row + 3 * (x - rect.x) : row + 3 * rect.w
    data.fill(nothing, row, left)
    if (inside) data.fill(nothing, left + 3 * w, row + 3 * rect.w)
  }
}

/** @throws RECT_OUTSIDE unless the rectangle is whole pixels inside the display window */
export function checkRect(plate: Plate, { x, y, w, h }: Rect): void {
  const window = { x: 0, y: 0, w: plate.width, h: plate.height }
  const rect = { x, y, w, h }
  if ([x, y, w, h].every(Number.isSafeInteger) && !isEmpty(rect) && contains(window, rect)) return
  const problem = `is ${plate.width} x ${plate.height}, the rectangle asked for is ${w} x ${h} at ${x}, ${y}`
  const remedy = 'a rectangle must be whole pixels inside the frame'
  throw plateError('RECT_OUTSIDE', plate.spec, problem, remedy, { exitCode: 2 })
}

function checkStoredRect(plate: Plate, rect: Rect): void {
  if (plate.format !== 'exr') checkRect(plate, rect)
}
