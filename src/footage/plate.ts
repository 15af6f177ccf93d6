// A plate: one image sequence or movie as shot, and reading a rectangle of one of its frames in linear light.
import { join } from 'node:path'
import { chooseEncoding, type Encoding } from '../colour/encoding.js'
import { decodeInPlace } from '../colour/transfer.js'
import { OffcutError, plateError } from '../errors.js'
import type { Frame } from '../raster/frame.js'
import { contains, isEmpty, type Rect } from '../raster/rect.js'
import { type Located, locatePlate } from './locate.js'
import { gapsIn } from './naming.js'
import { extensionOf, type FrameInfo, type FrameReader, readerFor } from './reader.js'

export interface Plate {
  /** Opens this plate again; absolute. */
  readonly spec: string
  /** For people: `quay.####.png`. */
  readonly name: string
  /** Absolute. */
  readonly folder: string
  /** Frame numbers that are there, ascending. */
  readonly frames: readonly number[]
  readonly first: number
  readonly last: number
  /** Runs of numbers between first and last that are missing. */
  readonly gaps: readonly { readonly first: number; readonly last: number }[]
  /** Display window, pixels. */
  readonly width: number
  readonly height: number
  readonly pixelAspect: number
  /** File name ending, lower case, without the dot. */
  readonly format: string
  readonly bitDepth: string
  readonly encoding: Encoding
  /** Why this encoding: a few words for `survey` and the sheet. */
  readonly encodingWhy: string
  readonly layer?: string
  /** What the header of the first readable frame says. */
  readonly info: FrameInfo
  /** The file of a frame. @throws FRAME_MISSING */
  pathOf(frame: number): string
}

export interface OpenOptions {
  /** `auto` or one of ENCODINGS. */
  readonly encoding?: string
  /** Layer of a file with several. */
  readonly layer?: string
}

// a plate whose first frames are broken still opens; one with this many broken in a row at its start does not
const PROBED_AT_MOST = 10

interface Source {
  readonly reader: FrameReader
  /** Frames whose header has been seen to have the plate's size. */
  readonly sized: Set<number>
}

const sources = new WeakMap<Plate, Source>()

/**
 * Opens a plate by a folder, any one of its frames, a printf or # pattern, a glob or a movie file. Reads the names and
 * one header, no pixels; see checkSizes for looking at every header.
 *
 * @throws PLATE_NOT_FOUND, PLATE_EMPTY, PLATE_UNSUPPORTED, PLATE_AMBIGUOUS, PLATE_DUPLICATE, FOLDER_UNREADABLE,
 *   FRAME_UNREADABLE, MISUSE (an unknown encoding)
 */
export async function openPlate(
  spec: string,
  { encoding = 'auto', layer }: OpenOptions = {},
): Promise<Plate> {
  // an unknown encoding is refused before any file is looked for
  chooseEncoding(encoding, { format: '' })
  const located = await locatePlate(spec)
  if (located.kind === 'movie') {
    throw plateError('PLATE_UNSUPPORTED', located.spec, 'is a movie', 'convert it to an image sequence')
  }
  return openFrames(located, encoding, layer)
}

async function openFrames(
  located: Extract<Located, { kind: 'frames' }>,
  asked: string,
  layer: string | undefined,
): Promise<Plate> {
  const { folder, sequence, spec } = located
  const frames = [...sequence.files.keys()]
  const pathOf = (frame: number): string => {
    const name = sequence.files.get(frame)
    if (name === undefined) throw missing({ spec, frames }, frame)
    return join(folder, name)
  }
  const reader = (await readerFor(sequence.name))!
  const { frame, info } = await probeFirst(reader, frames, pathOf, layer)
  const format = extensionOf(sequence.name)
  const choice = chooseEncoding(asked, { format, hint: info.encodingHint })
  const plate: Plate = {
    spec,
    name: sequence.name,
    folder,
    frames,
    first: frames[0]!,
    last: frames.at(-1)!,
    gaps: gapsIn(frames),
    width: info.width,
    height: info.height,
    pixelAspect: info.pixelAspect,
    format,
    bitDepth: info.bitDepth,
    encoding: choice.encoding,
    encodingWhy: choice.why,
    ...(layer === undefined ? {} : { layer }),
    info,
    pathOf,
  }
  sources.set(plate, { reader, sized: new Set([frame]) })
  return plate
}

async function probeFirst(
  reader: FrameReader,
  frames: readonly number[],
  pathOf: (frame: number) => string,
  layer: string | undefined,
): Promise<{ frame: number; info: FrameInfo }> {
  let first: OffcutError | undefined
  for (const frame of frames.slice(0, PROBED_AT_MOST)) {
    try {
      return { frame, info: await reader.probe(pathOf(frame), { layer }) }
    } catch (cause) {
      first ??= unreadable(pathOf(frame), cause)
      // what the caller got wrong is wrong for every frame
      if (cause instanceof OffcutError) break
    }
  }
  throw first
}

/**
 * A rectangle of one frame in linear light.
 *
 * @param rect whole pixels of the display window, inside it
 * @returns [rect.h, rect.w, 3]; NaN and infinity of float files are kept
 * @throws FRAME_MISSING, FRAME_UNREADABLE, FRAME_SIZE (the frame has another size than the plate), RECT_OUTSIDE
 */
export async function readRect(plate: Plate, frame: number, rect: Rect): Promise<Frame> {
  const path = plate.pathOf(frame)
  checkRect(plate, rect)
  const { reader } = sources.get(plate)!
  try {
    await checkSize(plate, frame)
    const picture = await reader.read(path, rect, { layer: plate.layer })
    decodeInPlace(picture.data, plate.encoding, { levels: levelsOf(plate.bitDepth) })
    return picture
  } catch (cause) {
    throw unreadable(path, cause)
  }
}

/**
 * Looks at the header of one frame, once per frame and plate.
 *
 * @throws FRAME_SIZE naming the frame with both sizes, FRAME_UNREADABLE
 */
export async function checkSize(plate: Plate, frame: number): Promise<void> {
  const { reader, sized } = sources.get(plate)!
  if (sized.has(frame)) return
  const path = plate.pathOf(frame)
  let info: FrameInfo
  try {
    info = await reader.probe(path, { layer: plate.layer })
  } catch (cause) {
    throw unreadable(path, cause)
  }
  if (info.width !== plate.width || info.height !== plate.height) {
    const problem = `is ${info.width} x ${info.height}, the plate is ${plate.width} x ${plate.height}`
    throw plateError('FRAME_SIZE', path, problem, 'a plate has one size; move the odd frames elsewhere')
  }
  sized.add(frame)
}

function checkRect(plate: Plate, rect: Rect): void {
  const whole = [rect.x, rect.y, rect.w, rect.h].every(Number.isSafeInteger)
  const window = { x: 0, y: 0, w: plate.width, h: plate.height }
  if (whole && !isEmpty(rect) && contains(window, rect)) return
  const problem = `is ${plate.width} x ${plate.height}, the rectangle is ${rect.w} x ${rect.h} at ${rect.x}, ${rect.y}`
  throw plateError('RECT_OUTSIDE', plate.spec, problem, 'it must be whole pixels inside the frame')
}

/** Largest integer of a depth such as `10-bit`; undefined for floats. */
function levelsOf(bitDepth: string): number | undefined {
  const bits = /^(8|10|12|14|16)-bit$/.exec(bitDepth)?.[1]
  return bits === undefined ? undefined : 2 ** Number(bits) - 1
}

function missing(plate: Pick<Plate, 'spec' | 'frames'>, frame: number): OffcutError {
  const range = `${plate.frames[0]} to ${plate.frames.at(-1)}`
  const inside = frame > plate.frames[0]! && frame < plate.frames.at(-1)!
  const problem = `has no frame ${frame}`
  return plateError('FRAME_MISSING', plate.spec, problem, `it has ${range}${inside ? ' with gaps' : ''}`)
}

function unreadable(path: string, cause: unknown): OffcutError {
  if (cause instanceof OffcutError) return cause
  const said = cause instanceof Error ? cause.message : String(cause)
  return plateError('FRAME_UNREADABLE', path, `can't be read (${said})`, 'render or copy it again', { cause })
}
