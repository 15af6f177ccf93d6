// PNG, TIFF and JPEG frames by sharp, as they are stored: at their depth, without colour management or change of alpha.
// Each reading takes one of Node's file threads, and libvips' own threads (sharp.concurrency) within it.
import { readFile } from 'node:fs/promises'
import sharp, { type Metadata, type Sharp } from 'sharp'
import { frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import type { BitDepth, FrameInfo, FrameReader, ReadOptions } from '../reader.js'
import { renameAssociatedAlpha } from './tiff-alpha.js'

// sharp remembers decoded files by name, so a frame that was rendered again would be read as it used to be.
sharp.cache(false)

/** Largest still that is opened, pixels: 16 times a 4096 x 2160 frame, so that a tiny file cannot ask for gigabytes. */
export const STILL_PIXEL_LIMIT = 16 * 4096 * 2160

/** A picture that takes longer than this is a trap or on a server that hangs; the largest still takes a few seconds. */
const DECODE_SECONDS = 60

/**
 * How to get each kind of pixel out of sharp unchanged. `space` is what sharp calls the pixels; asking for the space
 * they are already in is what stops it from converting to 8-bit sRGB.
 */
interface Layout {
  readonly bitDepth: BitDepth
  readonly output: 'uchar' | 'ushort' | 'float'
  readonly space?: 'rgb16' | 'scrgb'
  /** Divides the raw numbers into 0 to 1. */
  readonly fullScale: number
}

const LAYOUTS: Readonly<Record<string, Layout>> = {
  'srgb uchar': { bitDepth: '8-bit', output: 'uchar', fullScale: 255 },
  'b-w uchar': { bitDepth: '8-bit', output: 'uchar', fullScale: 255 },
  'rgb16 ushort': { bitDepth: '16-bit', output: 'ushort', space: 'rgb16', fullScale: 65535 },
  'grey16 ushort': { bitDepth: '16-bit', output: 'ushort', space: 'rgb16', fullScale: 65535 },
  'scrgb float': { bitDepth: 'float', output: 'float', space: 'scrgb', fullScale: 1 },
  'b-w float': { bitDepth: 'float', output: 'float', fullScale: 1 },
}

export const stillReader: FrameReader = {
  formats: ['png', 'tif', 'tiff', 'jpg', 'jpeg'],
  // Progressive JPEG and tiled TIFF are exceptions, either way.
  downwards: true,
  probe: async (path) => infoOf(await open(path).metadata()),
  async read(path, rect, options) {
    const { samples, channels, layout } = await decode(path, rect, options)
    return frame(rect.h, rect.w, 3, toRgb(samples, channels, layout.fullScale))
  },
  async readAlpha(path, rect, options) {
    const metadata = await metadataOf(path, options)
    if (!metadata.hasAlpha) return null
    const { samples, channels, layout, associated } = await decodeAs(path, rect, metadata, 'kept')
    const data = new Float32Array(rect.w * rect.h)
    for (let i = 0, at = channels < 3 ? 1 : 3; i < data.length; i++, at += channels)
      data[i] = samples[at]! / layout.fullScale
    return { data, associated }
  },
  async readThrough(path, rect, table, options) {
    const { samples, channels } = await decode(path, rect, options)
    return throughTable(samples, channels, table)
  },
}

interface Decoded {
  readonly samples: Uint8Array | Uint16Array | Float32Array
  readonly channels: number
  readonly layout: Layout
  /** The colours are multiplied by the alpha. */
  readonly associated: boolean
}

async function metadataOf(path: string, { onHeader }: ReadOptions = {}): Promise<Metadata> {
  const metadata = await open(path).metadata()
  onHeader?.(infoOf(metadata))
  return metadata
}

async function decode(path: string, rect: Rect, options?: ReadOptions): Promise<Decoded> {
  return decodeAs(path, rect, await metadataOf(path, options), 'removed')
}

async function decodeAs(
  path: string,
  rect: Rect,
  metadata: Metadata,
  alpha: 'kept' | 'removed',
): Promise<Decoded> {
  const layout = layoutOf(metadata)
  // The bytes that libvips is to see, where they are not the file's own.
  const bytes = metadata.format === 'tiff' && metadata.hasAlpha ? await readFile(path) : null
  const associated = bytes !== null && renameAssociatedAlpha(bytes)
  const picture = open(associated ? bytes : path)
  if (layout.space !== undefined) picture.toColourspace(layout.space)
  picture.extract({ left: rect.x, top: rect.y, width: rect.w, height: rect.h })
  if (alpha === 'removed') picture.removeAlpha()
  const { data, info } = await picture
    .timeout({ seconds: DECODE_SECONDS })
    .raw({ depth: layout.output })
    .toBuffer({ resolveWithObject: true })
  return { samples: samplesOf(data, layout), channels: info.channels, layout, associated }
}

function open(source: string | Buffer): Sharp {
  return sharp(source, {
    ignoreIcc: true,
    sequentialRead: true,
    // a truncated file is an error, not a picture that turns grey half-way down
    failOn: 'error',
    limitInputPixels: STILL_PIXEL_LIMIT,
  })
}

function infoOf(metadata: Metadata): FrameInfo {
  const { bitDepth } = layoutOf(metadata)
  const names = metadata.channels < 3 ? ['Y', 'A'] : ['R', 'G', 'B', 'A']
  return {
    width: metadata.width,
    height: metadata.height,
    bitDepth,
    channels: names.slice(0, metadata.channels),
    pixelAspect: 1,
  }
}

function layoutOf(metadata: Metadata): Layout {
  const layout = LAYOUTS[`${metadata.space} ${metadata.depth}`]
  if (layout === undefined) {
    throw new Error(
      `holds ${metadata.space} pixels of kind ${metadata.depth}; RGB or grey of 8 or 16 bits or float is read`,
    )
  }
  return layout
}

function samplesOf(data: Buffer, layout: Layout): Uint8Array | Uint16Array | Float32Array {
  if (layout.output === 'uchar') return data
  // sharp's buffers may start anywhere in their pool; a typed array must start at a multiple of its sample
  const aligned = data.byteOffset % 4 === 0 ? data : Buffer.from(new Uint8Array(data).buffer)
  return layout.output === 'ushort'
    ? new Uint16Array(aligned.buffer, aligned.byteOffset, aligned.byteLength / 2)
    : new Float32Array(aligned.buffer, aligned.byteOffset, aligned.byteLength / 4)
}

function toRgb(samples: ArrayLike<number>, channels: number, fullScale: number): Float32Array {
  const pixels = samples.length / channels
  const rgb = new Float32Array(pixels * 3)
  const green = channels < 3 ? 0 : 1
  const blue = channels < 3 ? 0 : 2
  for (let i = 0, from = 0, to = 0; i < pixels; i++, from += channels, to += 3) {
    rgb[to] = samples[from]! / fullScale
    rgb[to + 1] = samples[from + green]! / fullScale
    rgb[to + 2] = samples[from + blue]! / fullScale
  }
  return rgb
}

/** @param codes written over where they have room for what they become: new memory costs as much as the table itself */
function throughTable(
  codes: Uint8Array | Uint16Array | Float32Array,
  channels: number,
  table: Uint16Array,
): Uint16Array {
  if (channels === 3 && codes instanceof Uint16Array) {
    for (let i = 0; i < codes.length; i++) codes[i] = table[codes[i]!]!
    return codes
  }
  const pixels = codes.length / channels
  const rgb = new Uint16Array(pixels * 3)
  if (channels === 3) {
    for (let i = 0; i < rgb.length; i++) rgb[i] = table[codes[i]!]!
    return rgb
  }
  const green = channels < 3 ? 0 : 1
  const blue = channels < 3 ? 0 : 2
  for (let i = 0, from = 0, to = 0; i < pixels; i++, from += channels, to += 3) {
    rgb[to] = table[codes[from]!]!
    rgb[to + 1] = table[codes[from + green]!]!
    rgb[to + 2] = table[codes[from + blue]!]!
  }
  return rgb
}
