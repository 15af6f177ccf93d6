// A scanline OpenEXR file of RGB or RGBA, half or float, from a picture in linear light.
// Source: openexr.com, "OpenEXR File Layout", and "Technical Introduction" for ZIP's byte order and predictor.
import { deflateSync } from 'node:zlib'
import type { Frame } from '../../raster/frame.js'
import { bitsToHalf, HALF_MAX } from '../../raster/half.js'
import type { Rect } from '../../raster/rect.js'
import { type ExrMetadata, packTimeCode, rationalOf } from '../exr/attributes.js'
import { refuseExisting, type WriteOptions, writeWhole } from './file.js'

export interface ExrOptions extends ExrMetadata {
  /** The plate's full frame, in its own coordinates; usually at (0, 0). */
  readonly displayWindow: Rect
  /** Where the picture's top left pixel lies, in the same coordinates. Default: the display window's corner. */
  readonly origin?: { readonly x: number; readonly y: number }
  /** Default: half. */
  readonly pixelType?: 'half' | 'float'
  /** Default: zip, blocks of 16 rows. */
  readonly compression?: 'zip' | 'none'
  /**
   * `clamp`: samples beyond the largest finite value of the pixel type, infinity among them, become that value (65504
   * in a half), and NaN is the caller's mistake and throws. `keep`: they are stored as they are, for frames that must
   * come out as they went in. Default: clamp.
   */
  readonly nonFinite?: 'clamp' | 'keep'
}

const MAGIC = 20000630
const ZIP_ROWS = 16
// OpenEXR's own default since 3.1.3: a few percent larger than zlib's 6 at half the time
const ZIP_LEVEL = 4
const FLOAT_MAX = 3.4028234663852886e38

/**
 * The bytes of an EXR file.
 *
 * @param image linear light, [height, width, 3 or 4], RGB or premultiplied RGBA, written as given; not changed
 * @returns the file; channels are named R, G, B and A
 * @throws RangeError where a sample is NaN and `nonFinite` is `clamp`, or the picture has no pixels
 */
export function encodeExr(image: Frame, options: ExrOptions): Uint8Array {
  return encode(image, options).bytes
}

/**
 * Writes an EXR file, whole or not at all.
 *
 * @returns how many samples were clamped to the largest finite value
 * @throws OUTPUT_EXISTS, DISK_FULL, OUTPUT_UNWRITABLE; as encodeExr
 */
export async function writeExr(
  path: string,
  image: Frame,
  { overwrite = false, ...options }: ExrOptions & WriteOptions,
): Promise<{ clamped: number }> {
  await refuseExisting(path, overwrite)
  const { bytes, clamped } = encode(image, options)
  await writeWhole(path, bytes, { overwrite })
  return { clamped }
}

function encode(image: Frame, options: ExrOptions): { bytes: Uint8Array; clamped: number } {
  const [height, width, channels] = image.shape
  if (!(height > 0 && width > 0) || (channels !== 3 && channels !== 4)) {
    throw new RangeError(`an EXR takes [height, width, 3 or 4], got [${image.shape.join(', ')}]`)
  }
  const compress = (options.compression ?? 'zip') === 'zip'
  const rows = compress ? ZIP_ROWS : 1
  const count = Math.ceil(height / rows)
  const top = options.origin?.y ?? options.displayWindow.y
  const header = headerOf(width, height, channels, options)
  const pack = new BlockPacker(image, options)
  const parts: Uint8Array[] = [header]
  const table = Buffer.alloc(count * 8)
  parts.push(table)
  let at = header.length + table.length
  for (let block = 0; block < count; block++) {
    const first = block * rows
    const raw = pack.rows(first, Math.min(height, first + rows))
    const data = compress ? zip(raw) : raw
    const lead = Buffer.alloc(8)
    lead.writeInt32LE(top + first, 0)
    lead.writeInt32LE(data.length, 4)
    table.writeBigUInt64LE(BigInt(at), block * 8)
    parts.push(lead, data)
    at += lead.length + data.length
  }
  return { bytes: Buffer.concat(parts, at), clamped: pack.clamped }
}

/** Rows of a picture as an EXR block stores them: row by row, in each row channel by channel in alphabetical order. */
class BlockPacker {
  /** Samples so far that were beyond the largest finite value. */
  clamped = 0
  private readonly half: boolean
  private readonly keep: boolean
  private readonly limit: number
  private readonly scratch: Float32Array
  private readonly bits: Uint32Array

  constructor(
    private readonly image: Frame,
    options: ExrOptions,
  ) {
    this.half = (options.pixelType ?? 'half') === 'half'
    this.keep = options.nonFinite === 'keep'
    this.limit = this.half ? HALF_MAX : FLOAT_MAX
    this.scratch = new Float32Array(image.shape[1])
    this.bits = new Uint32Array(this.scratch.buffer)
  }

  rows(first: number, end: number): Uint8Array {
    const [, width, channels] = this.image.shape
    const bytes = this.half ? 2 : 4
    const out = new Uint8Array((end - first) * width * channels * bytes)
    let to = 0
    for (let y = first; y < end; y++) {
      // A, B, G, R is the alphabetical order of R, G, B, A
      for (let c = channels - 1; c >= 0; c--, to += width * bytes) {
        this.load(y, c)
        this.store(out, to)
      }
    }
    return out
  }

  private load(y: number, c: number): void {
    const [, width, channels] = this.image.shape
    const { scratch, limit, keep } = this
    const data = this.image.data
    for (let x = 0, from = y * width * channels + c; x < width; x++, from += channels) {
      const value = data[from]!
      if (value >= -limit && value <= limit) scratch[x] = value
      else if (keep) scratch[x] = value
      else if (Number.isNaN(value))
        throw new RangeError(`the picture has NaN at x ${x}, y ${y}, channel ${c}`)
      else {
        scratch[x] = value > 0 ? limit : -limit
        this.clamped++
      }
    }
  }

  private store(out: Uint8Array, to: number): void {
    const { bits } = this
    if (this.half) {
      for (let x = 0, i = to; x < bits.length; x++, i += 2) {
        const half = bitsToHalf(bits[x]!)
        out[i] = half
        out[i + 1] = half >>> 8
      }
      return
    }
    for (let x = 0, i = to; x < bits.length; x++, i += 4) {
      const word = bits[x]!
      out[i] = word
      out[i + 1] = word >>> 8
      out[i + 2] = word >>> 16
      out[i + 3] = word >>> 24
    }
  }
}

/** ZIP of one block, or the block itself where that is not larger: a reader tells them apart by the size. */
function zip(raw: Uint8Array): Uint8Array {
  const split = new Uint8Array(raw.length)
  const half = (raw.length + 1) >> 1
  for (let i = 0, low = 0, high = half; i < raw.length; i += 2) {
    split[low++] = raw[i]!
    if (i + 1 < raw.length) split[high++] = raw[i + 1]!
  }
  for (let i = split.length - 1; i > 0; i--) split[i] = split[i]! - split[i - 1]! + 128
  const packed = deflateSync(split, { level: ZIP_LEVEL })
  return packed.length < raw.length ? packed : raw
}

function headerOf(width: number, height: number, channels: number, options: ExrOptions): Uint8Array {
  const { displayWindow: display, origin = display } = options
  const header = new HeaderWriter()
  header.int(MAGIC).int(2)
  const type = (options.pixelType ?? 'half') === 'half' ? 1 : 2
  header.attribute('channels', 'chlist', (w) => {
    for (const name of channels === 4 ? ['A', 'B', 'G', 'R'] : ['B', 'G', 'R']) {
      w.text(name).int(type).int(0).int(1).int(1)
    }
    w.byte(0)
  })
  header.attribute('compression', 'compression', (w) =>
    w.byte((options.compression ?? 'zip') === 'zip' ? 3 : 0),
  )
  header.attribute('dataWindow', 'box2i', (w) => w.box({ ...origin, w: width, h: height }))
  header.attribute('displayWindow', 'box2i', (w) => w.box(display))
  header.attribute('lineOrder', 'lineOrder', (w) => w.byte(0))
  header.attribute('pixelAspectRatio', 'float', (w) => w.float(options.pixelAspect ?? 1))
  header.attribute('screenWindowCenter', 'v2f', (w) => w.float(0).float(0))
  header.attribute('screenWindowWidth', 'float', (w) => w.float(1))
  const { chromaticities, framesPerSecond, timeCode, imageCounter } = options
  if (chromaticities?.length === 8) {
    header.attribute('chromaticities', 'chromaticities', (w) => {
      for (const value of chromaticities) w.float(value)
    })
  }
  if (framesPerSecond !== undefined && framesPerSecond > 0 && framesPerSecond < 1e5) {
    const [numerator, denominator] = rationalOf(framesPerSecond)
    header.attribute('framesPerSecond', 'rational', (w) => w.int(numerator).int(denominator))
  }
  const packed = timeCode === undefined ? null : packTimeCode(timeCode)
  if (packed !== null) header.attribute('timeCode', 'timecode', (w) => w.int(packed).int(0))
  if (imageCounter !== undefined) header.attribute('imageCounter', 'int', (w) => w.int(imageCounter))
  return header.byte(0).bytes()
}

/** Grows a header value by value, little endian. */
class HeaderWriter {
  private readonly out: number[] = []

  byte(value: number): this {
    this.out.push(value & 255)
    return this
  }

  int(value: number): this {
    return this.byte(value)
      .byte(value >> 8)
      .byte(value >> 16)
      .byte(value >> 24)
  }

  float(value: number): this {
    return this.int(new Int32Array(Float32Array.of(value).buffer)[0]!)
  }

  text(value: string): this {
    this.out.push(...Buffer.from(value, 'latin1'), 0)
    return this
  }

  box({ x, y, w, h }: Rect): this {
    return this.int(x)
      .int(y)
      .int(x + w - 1)
      .int(y + h - 1)
  }

  attribute(name: string, type: string, write: (value: HeaderWriter) => void): void {
    const value = new HeaderWriter()
    write(value)
    this.text(name).text(type).int(value.out.length)
    for (const b of value.out) this.out.push(b)
  }

  bytes(): Uint8Array {
    return Uint8Array.from(this.out)
  }
}
