// A scanline OpenEXR file of RGB or RGBA, half or float, from a picture in linear light.
// Source: openexr.com, "OpenEXR File Layout", and "Technical Introduction" for ZIP's byte order and predictor.
import { promisify } from 'node:util'
import { deflate, deflateSync } from 'node:zlib'
import pLimit from 'p-limit'
import type { Frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { type ExrMetadata, packTimeCode, rationalOf } from '../exr/attributes.js'
import { inOnePiece } from '../exr/bytes.js'
import type { StoredBlocks } from '../exr/stored.js'
import { BlockPacker, type SampleOptions } from './exr-blocks.js'
import { refuseExisting, type WriteOptions, writeWhole } from './file.js'

export interface ExrOptions extends ExrMetadata, SampleOptions {
  /** The plate's full frame, in its own coordinates; usually at (0, 0). */
  readonly displayWindow: Rect
  /** Where the picture's top left pixel lies, in the same coordinates. Default: the display window's corner. */
  readonly origin?: { readonly x: number; readonly y: number }
  /** Default: zip, blocks of 16 rows. */
  readonly compression?: 'zip' | 'none'
}

const MAGIC = 20000630
/** Rows of a ZIP block. */
export const ZIP_ROWS = 16
// without the flag for long names, which older readers refuse
const NAME_LIMIT = 31
// OpenEXR's own default since 3.1.3: a few percent larger than zlib's 6 at half the time
const ZIP_LEVEL = 4
// Node has four threads for this; one more is packed meanwhile
const BLOCKS_AT_ONCE = 5

const deflateInThread = promisify(deflate)

/**
 * The bytes of an EXR file.
 *
 * @param image linear light, [height, width, 3 or 4], RGB or premultiplied RGBA, written as given; not changed
 * @returns the file; channels are named R, G, B and A
 * @throws RangeError where a sample is NaN and `nonFinite` is `clamp`, or the picture has no pixels
 */
export function encodeExr(image: Frame, options: ExrOptions): Uint8Array {
  const plan = planOf(image, options)
  const blocks = plan.blocks.map((block) =>
    smaller(
      plan,
      block,
      plan.compress ? deflateSync(plan.packer.predicted(block), { level: ZIP_LEVEL }) : null,
    ),
  )
  return Buffer.concat(fileOf(plan, blocks))
}

/**
 * Writes an EXR file, whole or not at all. Blocks are deflated on Node's threads, several at a time.
 *
 * @returns how many samples were clamped to the largest finite value
 * @throws OUTPUT_EXISTS, DISK_FULL, OUTPUT_UNWRITABLE; as encodeExr
 */
export async function writeExr(
  path: string,
  image: Frame,
  { overwrite = false, ...exr }: ExrOptions & WriteOptions,
): Promise<{ clamped: number }> {
  await refuseExisting(path, overwrite)
  const plan = planOf(image, exr)
  await writeWhole(path, fileOf(plan, await packed(plan)), { overwrite })
  return { clamped: plan.packer.clamped }
}

/**
 * Writes an EXR file of blocks that are stored already, with a picture in the place of some of them: the same samples as
 * writing all of the picture again, without packing what stays.
 *
 * @param image whole blocks of rows, all of the width and all channels; half floats
 * @param first the first block that it stands in for
 * @throws as writeExr
 */
export async function writeExrOver(
  path: string,
  { width, height, channels, blocks }: StoredBlocks,
  image: Frame,
  first: number,
  { overwrite = false, ...exr }: Omit<ExrOptions, 'pixelType' | 'compression' | 'origin'> & WriteOptions,
): Promise<void> {
  await refuseExisting(path, overwrite)
  const plan = planOf(image, exr)
  const made = await packed(plan)
  const all = [...blocks.slice(0, first), ...made, ...blocks.slice(first + made.length)]
  const header = headerOf(width, height, channels, exr)
  await writeWhole(path, fileOf({ ...plan, header }, all), { overwrite })
}

/** All blocks of a plan, by Node's threads. */
function packed(plan: Plan): Promise<Uint8Array[]> {
  const options = { level: ZIP_LEVEL, ...inOnePiece(plan.packer.sizeOf(0)) }
  return pLimit(BLOCKS_AT_ONCE).map(plan.blocks, async (block) =>
    smaller(plan, block, plan.compress ? await deflateInThread(plan.packer.predicted(block), options) : null),
  )
}

/** A block as it is stored: compressed where that is smaller, which a reader tells by the size. */
function smaller({ packer }: Plan, block: number, zipped: Uint8Array | null): Uint8Array {
  return zipped !== null && zipped.length < packer.sizeOf(block) ? zipped : packer.raw(block)
}

interface Plan {
  readonly header: Uint8Array
  readonly packer: BlockPacker
  readonly compress: boolean
  /** Numbers of the picture's blocks. */
  readonly blocks: readonly number[]
  /** The first row, in the display window's coordinates. */
  readonly top: number
}

function planOf(image: Frame, options: ExrOptions): Plan {
  const [height, width, channels] = image.shape
  if (!(height > 0 && width > 0) || (channels !== 3 && channels !== 4)) {
    throw new RangeError(`an EXR takes [height, width, 3 or 4], got [${image.shape.join(', ')}]`)
  }
  const compress = (options.compression ?? 'zip') === 'zip'
  const rows = compress ? ZIP_ROWS : 1
  return {
    header: headerOf(width, height, channels, options),
    packer: new BlockPacker(image, rows, options),
    compress,
    blocks: Array.from({ length: Math.ceil(height / rows) }, (_, block) => block),
    top: options.origin?.y ?? options.displayWindow.y,
  }
}

/** Header, table of where the blocks lie, and every block with its lead. */
function fileOf({ header, packer, top }: Plan, blocks: readonly Uint8Array[]): Uint8Array[] {
  const table = Buffer.alloc(blocks.length * 8)
  const pieces: Uint8Array[] = [header, table]
  let at = header.length + table.length
  for (const [block, data] of blocks.entries()) {
    const lead = Buffer.alloc(8)
    lead.writeInt32LE(top + block * packer.rowsPerBlock, 0)
    lead.writeInt32LE(data.length, 4)
    table.writeBigUInt64LE(BigInt(at), block * 8)
    pieces.push(lead, data)
    at += lead.length + data.length
  }
  return pieces
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
  const { chromaticities, framesPerSecond, timeCode, imageCounter, strings = {} } = options
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
  for (const [name, text] of Object.entries(strings)) {
    if (Buffer.byteLength(name) > NAME_LIMIT)
      throw new RangeError(`an EXR's attribute has a name of at most ${NAME_LIMIT} bytes, got ${name}`)
    header.attribute(name, 'string', (w) => w.raw(Buffer.from(text, 'utf8')))
  }
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
    return this.raw(Buffer.from(value, 'latin1')).byte(0)
  }

  raw(bytes: Uint8Array): this {
    for (const b of bytes) this.out.push(b)
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
