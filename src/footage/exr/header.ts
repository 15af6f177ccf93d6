// The headers of an OpenEXR file, checked field by field. Source: openexr.com, "OpenEXR File Layout".
import type { Rect } from '../../raster/rect.js'
import { BadFile, type BoundedFile, FRAME_PIXEL_LIMIT, FRAME_SIDE_LIMIT } from '../bounded-file.js'
import { type ExrMetadata, unpackTimeCode } from './attributes.js'

const COMPRESSIONS = ['none', 'rle', 'zips', 'zip', 'piz', 'pxr24', 'b44', 'b44a', 'dwaa', 'dwab'] as const
export type Compression = (typeof COMPRESSIONS)[number]

const PIXEL_TYPES = ['uint', 'half', 'float'] as const
type PixelType = (typeof PIXEL_TYPES)[number]

export interface Channel {
  readonly name: string
  readonly type: PixelType
  /** Set on channels that lossy compressions should treat as perceptually linear. */
  readonly pLinear: boolean
  /** Every how many pixels there is a sample. */
  readonly xSampling: number
  readonly ySampling: number
}

export interface Tiling {
  readonly width: number
  readonly height: number
  readonly levels: 'one' | 'mip' | 'rip'
  readonly roundUp: boolean
}

/** One picture of the file. A single-part file has one. */
export interface Part extends ExrMetadata {
  /** Position in the file, which chunks of a multi-part file repeat. */
  readonly number: number
  /** Empty in a single-part file. */
  readonly name: string
  readonly deep: boolean
  /** Alphabetical, as the samples are stored. */
  readonly channels: readonly Channel[]
  readonly compression: Compression
  readonly dataWindow: Rect
  readonly displayWindow: Rect
  /** Null where the part is stored in rows. */
  readonly tiling: Tiling | null
  /** As the header has it; null where it says nothing, as single-part files need not. */
  readonly chunkCount: number | null
}

export interface ExrHeader {
  readonly parts: readonly Part[]
  readonly multiPart: boolean
  /** Where the chunk offset tables begin, bytes. */
  readonly tablesAt: number
}

const MAGIC = 20000630
const FLAG_TILED = 0x200
const FLAG_LONG_NAMES = 0x400
const FLAG_DEEP = 0x800
const FLAG_MULTI_PART = 0x1000
const KNOWN_FLAGS = FLAG_TILED | FLAG_LONG_NAMES | FLAG_DEEP | FLAG_MULTI_PART

const FIRST_READ = 16 << 10
// headers carry previews and manifests, but none that anybody needs is as large as this
const HEADER_LIMIT = 64 << 20
const NAME_LIMIT = 255
const PART_LIMIT = 4096
const CHANNEL_LIMIT = 4096
// as OpenEXR itself: beyond half the range of an int, widths no longer fit one
const COORDINATE_LIMIT = 2 ** 30

/** Says that more of the file must be read before the header can be parsed. */
class NeedMore extends Error {}

export function bad(message: string, cause?: unknown): BadFile {
  return new BadFile('EXR_BAD', message, { cause })
}

/** Reads and checks the headers, as much of the file as they take and no more. @throws BadFile */
export async function readHeader(file: BoundedFile): Promise<ExrHeader> {
  for (let length = FIRST_READ; ; length *= 8) {
    const head = await file.head(length)
    try {
      return parseHeader(head)
    } catch (error) {
      if (!(error instanceof NeedMore)) throw error
      if (head.length === file.size) throw bad(`ends inside its header, after ${file.size} bytes`)
      if (length >= HEADER_LIMIT) throw bad(`has a header of more than ${HEADER_LIMIT >> 20} MB`)
    }
  }
}

function parseHeader(head: Buffer): ExrHeader {
  const cursor = new Cursor(head)
  if (cursor.int() !== MAGIC) throw bad('is not an EXR: it begins with other bytes')
  const version = cursor.int()
  const flags = version & ~0xff
  if ((version & 0xff) > 2) throw bad(`is of EXR version ${version & 0xff}, versions 1 and 2 are read`)
  if ((flags & ~KNOWN_FLAGS) !== 0) throw bad(`has unknown feature flags ${(flags >>> 8).toString(16)}`)
  const multiPart = (flags & FLAG_MULTI_PART) !== 0
  const parts: Part[] = []
  do {
    parts.push(parsePart(cursor, parts.length, flags))
    if (parts.length > PART_LIMIT) throw bad(`has more than ${PART_LIMIT} parts`)
  } while (multiPart && cursor.peek() !== 0)
  if (multiPart) cursor.byte()
  return { parts, multiPart, tablesAt: cursor.at }
}

type Attributes = Map<string, { readonly type: string; readonly value: Cursor }>

function parsePart(cursor: Cursor, number: number, flags: number): Part {
  const attributes: Attributes = new Map()
  while (cursor.peek() !== 0) {
    const name = cursor.text(NAME_LIMIT)
    const type = cursor.text(NAME_LIMIT)
    const size = cursor.int()
    if (size < 0) throw bad(`has an attribute "${name}" of ${size} bytes`)
    attributes.set(name, { type, value: cursor.slice(size) })
  }
  cursor.byte()
  const need = <T>(name: string, type: string, read: (value: Cursor) => T): T => {
    const value = optional(attributes, name, type, read)
    if (value === undefined) throw bad(`has no "${name}" in its header`)
    return value
  }
  const kind = optional(attributes, 'type', 'string', (v) => v.rest())
  // a multi-part file says per part what it is, a single-part one by the flags
  const tiled = flags & FLAG_MULTI_PART ? kind === 'tiledimage' : (flags & FLAG_TILED) !== 0
  const deep = (flags & FLAG_DEEP) !== 0 || (kind?.startsWith('deep') ?? false)
  const dataWindow = checkWindow('data', need('dataWindow', 'box2i', readBox), deep)
  const displayWindow = checkWindow('display', need('displayWindow', 'box2i', readBox), deep)
  const channels = need('channels', 'chlist', readChannels)
  if (!deep) checkSampling(channels, dataWindow, tiled)
  return {
    number,
    name: optional(attributes, 'name', 'string', (v) => v.rest()) ?? '',
    deep,
    channels,
    compression: need('compression', 'compression', (v) => readCompression(v.byte())),
    dataWindow,
    displayWindow,
    tiling: tiled && !deep ? need('tiles', 'tiledesc', readTiling) : null,
    chunkCount: optional(attributes, 'chunkCount', 'int', (v) => v.int()) ?? null,
    ...readMetadata(attributes),
  }
}

function optional<T>(
  attributes: Attributes,
  name: string,
  type: string,
  read: (value: Cursor) => T,
): T | undefined {
  const attribute = attributes.get(name)
  if (attribute === undefined || attribute.type !== type) return undefined
  try {
    return read(attribute.value)
  } catch (error) {
    if (error instanceof NeedMore) throw bad(`has a "${name}" in its header that is too short`)
    throw error
  }
}

function readMetadata(attributes: Attributes): ExrMetadata {
  const aspect = optional(attributes, 'pixelAspectRatio', 'float', (v) => v.float())
  const rate = optional(attributes, 'framesPerSecond', 'rational', (v) => v.int() / (v.int() >>> 0))
  const word = optional(attributes, 'timeCode', 'timecode', (v) => v.int() >>> 0)
  const timeCode = word === undefined ? null : unpackTimeCode(word)
  const imageCounter = optional(attributes, 'imageCounter', 'int', (v) => v.int())
  const xy = optional(attributes, 'chromaticities', 'chromaticities', (v) =>
    Array.from({ length: 8 }, () => v.float()),
  )
  return {
    pixelAspect: aspect !== undefined && aspect > 0 && aspect < 1e6 ? aspect : 1,
    ...(rate !== undefined && rate > 0 && Number.isFinite(rate) ? { framesPerSecond: rate } : {}),
    ...(timeCode === null ? {} : { timeCode }),
    ...(imageCounter === undefined ? {} : { imageCounter }),
    ...(xy?.every(Number.isFinite) ? { chromaticities: xy } : {}),
  }
}

function readBox(value: Cursor): Rect {
  const [x0, y0, x1, y1] = [value.int(), value.int(), value.int(), value.int()] as const
  return { x: x0, y: y0, w: x1 - x0 + 1, h: y1 - y0 + 1 }
}

function checkWindow(which: string, { x, y, w, h }: Rect, deep: boolean): Rect {
  const corners = `(${x}, ${y}) to (${x + w - 1}, ${y + h - 1})`
  const far = [x, y, x + w, y + h].some((v) => Math.abs(v) >= COORDINATE_LIMIT)
  if (w < 1 || h < 1 || far) throw bad(`has a ${which} window from ${corners}, which is no picture`)
  // a deep part is never read, so its size is its own business
  if (!deep && (w > FRAME_SIDE_LIMIT || h > FRAME_SIDE_LIMIT || w * h > FRAME_PIXEL_LIMIT)) {
    throw bad(`has a ${which} window of ${w} x ${h}, at most ${FRAME_PIXEL_LIMIT} pixels are read`)
  }
  return { x, y, w, h }
}

function readChannels(value: Cursor): Channel[] {
  const channels: Channel[] = []
  while (value.peek() !== 0) {
    const name = value.text(NAME_LIMIT)
    const type = PIXEL_TYPES[value.int()]
    const pLinear = value.byte() !== 0
    value.slice(3)
    const [xSampling, ySampling] = [value.int(), value.int()] as const
    if (type === undefined) throw bad(`has a channel "${name}" of an unknown type`)
    if (xSampling < 1 || ySampling < 1)
      throw bad(`has a channel "${name}" sampled every ${xSampling} x ${ySampling}`)
    channels.push({ name, type, pLinear, xSampling, ySampling })
    if (channels.length > CHANNEL_LIMIT) throw bad(`has more than ${CHANNEL_LIMIT} channels`)
  }
  if (channels.length === 0) throw bad('has no channels')
  return channels
}

/** As OpenEXR itself wants it: a subsampled channel begins with a sample and ends with a whole step; never in tiles. */
function checkSampling(channels: readonly Channel[], { x, y, w, h }: Rect, tiled: boolean): void {
  for (const { name, xSampling, ySampling } of channels) {
    const uneven = x % xSampling || w % xSampling || y % ySampling || h % ySampling
    if (uneven || (tiled && xSampling * ySampling > 1)) {
      throw bad(
        `has a channel "${name}" sampled every ${xSampling} x ${ySampling}, which its data window does not allow`,
      )
    }
  }
}

function readCompression(index: number): Compression {
  const compression = COMPRESSIONS[index]
  if (compression === undefined)
    throw bad(`is compressed by method ${index}; ${COMPRESSIONS.join(', ')} are read`)
  return compression
}

function readTiling(value: Cursor): Tiling {
  const [width, height, mode] = [value.int(), value.int(), value.byte()] as const
  const levels = (['one', 'mip', 'rip'] as const)[mode & 15]
  if (width < 1 || height < 1 || levels === undefined || mode >> 4 > 1) {
    throw bad(`has tiles of ${width} x ${height}, mode ${mode}`)
  }
  return { width, height, levels, roundUp: mode >> 4 === 1 }
}

/** Steps through bytes, little endian. */
class Cursor {
  at = 0
  constructor(private readonly bytes: Buffer) {}

  private take(length: number): number {
    const from = this.at
    if (from + length > this.bytes.length) throw new NeedMore()
    this.at += length
    return from
  }

  peek(): number {
    if (this.at >= this.bytes.length) throw new NeedMore()
    return this.bytes[this.at]!
  }

  byte(): number {
    return this.bytes[this.take(1)]!
  }

  int(): number {
    return this.bytes.readInt32LE(this.take(4))
  }

  float(): number {
    return this.bytes.readFloatLE(this.take(4))
  }

  slice(length: number): Cursor {
    const from = this.take(length)
    return new Cursor(this.bytes.subarray(from, from + length))
  }

  /** Text up to a zero byte. */
  text(limit: number): string {
    const end = this.bytes.indexOf(0, this.at)
    if (end < 0 && this.bytes.length - this.at <= limit) throw new NeedMore()
    if (end < 0 || end - this.at > limit) throw bad(`has a name of more than ${limit} bytes in its header`)
    const text = this.bytes.toString('utf8', this.at, end)
    this.at = end + 1
    return text
  }

  rest(): string {
    return this.bytes.toString('utf8', this.at).replace(/\0+$/, '')
  }
}
