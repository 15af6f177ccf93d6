// The header of a DPX file, checked field by field. Source: SMPTE ST 268-1 (268M-2003), tables 1 to 6.
import type { EncodingChoice } from '../../colour/encoding.js'
import { BadFile, type BoundedFile, FRAME_PIXEL_LIMIT, FRAME_SIDE_LIMIT } from '../bounded-file.js'
import { unpackTimeCode } from '../exr/attributes.js'

/** How the samples of a row follow each other. */
export interface DpxLayout {
  readonly littleEndian: boolean
  readonly bits: 8 | 10 | 12 | 16
  /** packed: without gaps in 32-bit words. a: filled up with zero bits below the samples. b: above them. */
  readonly packing: 'packed' | 'a' | 'b'
  readonly components: 1 | 3 | 4
  /** Which component of a pixel is red, green and blue. */
  readonly rgb: readonly [number, number, number]
}

export interface DpxHeader extends DpxLayout {
  readonly width: number
  readonly height: number
  readonly channels: readonly string[]
  /** Bytes from one row to the next, and where the first begins. */
  readonly stride: number
  readonly dataAt: number
  /** The file's first row is the bottom one, its first pixel the rightmost one. */
  readonly bottomUp: boolean
  readonly rightToLeft: boolean
  readonly pixelAspect: number
  readonly encodingHint?: EncodingChoice
  readonly framesPerSecond?: number
  readonly timeCode?: string
  readonly imageCounter?: number
}

const HEADER_BYTES = 2048
const SHORTEST_HEADER = 1408
const UNDEFINED = 0xffffffff

const DESCRIPTORS: Readonly<Record<number, Pick<DpxHeader, 'components' | 'rgb' | 'channels'>>> = {
  6: { components: 1, rgb: [0, 0, 0], channels: ['Y'] },
  50: { components: 3, rgb: [0, 1, 2], channels: ['R', 'G', 'B'] },
  51: { components: 4, rgb: [0, 1, 2], channels: ['R', 'G', 'B', 'A'] },
  52: { components: 4, rgb: [3, 2, 1], channels: ['A', 'B', 'G', 'R'] },
}

/** Transfer characteristics of table 5A that say how values stand for light. */
const TRANSFERS: Readonly<Record<number, EncodingChoice>> = {
  1: { encoding: 'cineon', why: 'the DPX header says printing density' },
  2: { encoding: 'linear', why: 'the DPX header says linear' },
  3: { encoding: 'cineon', why: 'the DPX header says logarithmic, which printing density is' },
  5: { encoding: 'rec709', why: 'the DPX header says SMPTE ST 274, which has the curve of Rec.709' },
  6: { encoding: 'rec709', why: 'the DPX header says ITU-R BT.709' },
  7: { encoding: 'rec709', why: 'the DPX header says ITU-R BT.601, which has the curve of Rec.709' },
  8: { encoding: 'rec709', why: 'the DPX header says ITU-R BT.601, which has the curve of Rec.709' },
  9: { encoding: 'rec709', why: 'the DPX header says SMPTE ST 170, which has the curve of Rec.709' },
}

function bad(message: string): BadFile {
  return new BadFile('DPX_BAD', message)
}

/** @throws BadFile */
export async function readDpxHeader(file: BoundedFile): Promise<DpxHeader> {
  const bytes = await file.head(HEADER_BYTES)
  const magic = bytes.toString('latin1', 0, 4)
  if (magic !== 'SDPX' && magic !== 'XPDS') throw bad('is not a DPX: it begins with other bytes')
  if (bytes.length < SHORTEST_HEADER) throw bad(`ends inside its header, after ${bytes.length} bytes`)
  const fields = new Fields(bytes, magic === 'XPDS')
  const { width, height } = readSize(fields)
  const at = findElement(fields)
  const layout = readLayout(fields, at)
  const dataAt = readOffset(fields, at)
  const stride = readStride(fields, at, layout, { width, height, room: file.size - dataAt })
  const end = dataAt + stride * (height - 1) + rowBytes(layout, width)
  if (end > file.size) throw bad(`ends before its last row: ${end} bytes are needed, there are ${file.size}`)
  const orientation = fields.u16(768)
  if (orientation > 3 && orientation !== 0xffff)
    throw bad(`is stored column by column (orientation ${orientation})`)
  return {
    ...layout,
    width,
    height,
    stride,
    dataAt,
    rightToLeft: orientation === 1 || orientation === 3,
    bottomUp: orientation === 2 || orientation === 3,
    ...readPicture(fields, at, dataAt),
  }
}

function readSize(fields: Fields): { width: number; height: number } {
  const [width, height] = [fields.u32(772), fields.u32(776)]
  const tooLarge = width > FRAME_SIDE_LIMIT || height > FRAME_SIDE_LIMIT || width * height > FRAME_PIXEL_LIMIT
  if (width < 1 || height < 1 || tooLarge) {
    throw bad(`has a size of ${width} x ${height}, 1 to ${FRAME_PIXEL_LIMIT} pixels are read`)
  }
  return { width, height }
}

/** Where the first image element begins that is a picture by itself. */
function findElement(fields: Fields): number {
  const count = fields.u16(770)
  if (count < 1 || count > 8) throw bad(`has ${count} image elements, 1 to 8 are possible`)
  const elements = Array.from({ length: count }, (_, i) => 780 + 72 * i)
  const found = elements.find((at) => DESCRIPTORS[fields.u8(at + 20)] !== undefined)
  if (found !== undefined) return found
  const kinds = elements.map((at) => fields.u8(at + 20)).join(', ')
  throw bad(`holds image elements of kind ${kinds}; RGB (50), RGBA (51), ABGR (52) and luma (6) are read`)
}

function readLayout(fields: Fields, at: number): DpxLayout & Pick<DpxHeader, 'channels'> {
  const bits = fields.u8(at + 23)
  if (bits !== 8 && bits !== 10 && bits !== 12 && bits !== 16) {
    throw bad(`has ${bits} bits per sample; 8, 10, 12 and 16 are read`)
  }
  const packing = (['packed', 'a', 'b'] as const)[fields.u16(at + 24)]
  if (packing === undefined) throw bad(`is packed by method ${fields.u16(at + 24)}; 0, 1 and 2 are read`)
  // undefined counts as plain, as with other fields
  const [encoding, sign] = [fields.u16(at + 26), fields.u32(at)]
  if (encoding === 1) throw bad('is run-length encoded; save it without')
  if (sign === 1) throw bad('holds signed samples')
  return { littleEndian: fields.littleEndian, bits, packing, ...DESCRIPTORS[fields.u8(at + 20)]! }
}

/** The element says where its samples begin; where it does not, the file does. */
function readOffset(fields: Fields, at: number): number {
  const own = fields.u32(at + 28)
  const offset = own === 0 || own === UNDEFINED ? fields.u32(4) : own
  if (offset < SHORTEST_HEADER || offset === UNDEFINED)
    throw bad(`has its samples at byte ${offset}, inside its header`)
  return offset
}

/** Bytes of one row, without what fills it up. */
function rowBytes({ bits, packing, components }: DpxLayout, width: number): number {
  const samples = width * components
  if (bits === 8) return samples
  if (bits === 16) return 2 * samples
  if (packing === 'packed') return 4 * Math.ceil((samples * bits) / 32)
  return bits === 12 ? 2 * samples : 4 * Math.ceil(samples / 3)
}

interface Space {
  readonly width: number
  readonly height: number
  /** Bytes from the first sample to the end of the file. */
  readonly room: number
}

function readStride(fields: Fields, at: number, layout: DpxLayout, { width, height, room }: Space): number {
  const bare = rowBytes(layout, width)
  const padding = fields.u32(at + 32)
  if (padding !== 0 && padding !== UNDEFINED) {
    if (padding > room) throw bad(`has ${padding} bytes of padding after each row, the file has ${room}`)
    return bare + padding
  }
  const aligned = 4 * Math.ceil(bare / 4)
  // rows begin at 32-bit words, but widespread writers run rows of 8 and 16 bits on; only the file's length tells
  return aligned * (height - 1) + bare > room ? bare : aligned
}

function readPicture(
  fields: Fields,
  at: number,
  dataAt: number,
): Pick<DpxHeader, 'pixelAspect' | 'encodingHint' | 'framesPerSecond' | 'timeCode' | 'imageCounter'> {
  const [across, down] = dataAt >= 1664 ? [fields.u32(1628), fields.u32(1632)] : [0, 0]
  // zero and all ones mean that it was not filled in
  const known = across > 0 && down > 0 && across !== UNDEFINED && down !== UNDEFINED
  const hint = TRANSFERS[fields.u8(at + 21)]
  const rates = dataAt >= HEADER_BYTES ? [fields.f32(1940), fields.f32(1724)] : []
  const rate = rates.find((r) => r > 0 && r < 1e5)
  const timeCode = dataAt >= HEADER_BYTES ? unpackTimeCode(fields.u32(1920)) : null
  const position = dataAt >= HEADER_BYTES ? fields.u32(1712) : UNDEFINED
  return {
    pixelAspect: known ? across / down : 1,
    ...(hint === undefined ? {} : { encodingHint: hint }),
    ...(rate === undefined ? {} : { framesPerSecond: rate }),
    ...(timeCode === null ? {} : { timeCode }),
    // The film header's place in its sequence; a field of zeros or ones was not filled in.
    ...(position > 0 && position < 2 ** 31 ? { imageCounter: position } : {}),
  }
}

/** Header fields by their offset; beyond the end of a short file all bits are set, which means undefined. */
class Fields {
  private readonly bytes: Buffer
  constructor(
    head: Buffer,
    readonly littleEndian: boolean,
  ) {
    this.bytes = Buffer.alloc(HEADER_BYTES, 0xff)
    head.copy(this.bytes)
  }

  u8(at: number): number {
    return this.bytes[at]!
  }

  u16(at: number): number {
    return this.littleEndian ? this.bytes.readUInt16LE(at) : this.bytes.readUInt16BE(at)
  }

  u32(at: number): number {
    return this.littleEndian ? this.bytes.readUInt32LE(at) : this.bytes.readUInt32BE(at)
  }

  f32(at: number): number {
    return this.littleEndian ? this.bytes.readFloatLE(at) : this.bytes.readFloatBE(at)
  }
}
