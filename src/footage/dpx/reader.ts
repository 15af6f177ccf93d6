// Reads a rectangle of a DPX frame by seeking: only the bytes from its first row to its last are read from disk.
import { codecs } from '../../kernels/codecs.js'
import { type PixelWords, tenBits } from '../../kernels/dpx.js'
import { frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { BoundedFile } from '../bounded-file.js'
import type { FrameInfo, FrameReader, ReadOptions } from '../reader.js'
import { type DpxHeader, readDpxHeader } from './header.js'
import { spanOf, unpackRow } from './unpack.js'

export const dpxReader: FrameReader = {
  formats: ['dpx'],
  byRows: true,
  probe: (path) => BoundedFile.use(path, 'DPX_BAD', async (file) => infoOf(await readDpxHeader(file))),
  read: (path, rect, options) =>
    BoundedFile.use(path, 'DPX_BAD', async (file) => {
      const header = await opened(file, options)
      const out = frame(rect.h, rect.w, 3)
      const fullScale = 2 ** header.bits - 1
      const codes = new Uint16Array(rect.w * header.components)
      await readRows(file, header, rect, (row, first, y) => {
        unpackRow(header, row, first, codes)
        storeRow(header, codes, rowOf(out.data, rect, y), (code) => code / fullScale)
      })
      return out
    }),
  readThrough: (path, rect, table, options) =>
    BoundedFile.use(path, 'DPX_BAD', async (file) => {
      const out = new Uint16Array(rect.h * rect.w * 3)
      const header = await opened(file, options)
      const words = table.length === 1024 ? pixelWords(header) : null
      const codes = new Uint16Array(rect.w * header.components)
      await readRows(file, header, rect, (row, first, y) => {
        if (words !== null) return tenBits(codecs(), row, words, table, rowOf(out, rect, y))
        unpackRow(header, row, first, codes)
        storeRow(header, codes, rowOf(out, rect, y), (code) => table[code]!)
      })
      return out
    }),
}

async function opened(file: BoundedFile, { onHeader }: ReadOptions = {}): Promise<DpxHeader> {
  const header = await readDpxHeader(file)
  onHeader?.(infoOf(header))
  return header
}

// Rows are fetched with what lies between them, as long as that is less than this: on a disk or a network one longer read
// is far cheaper than hundreds of short ones, and the memory stays bounded.
const READ_AT_ONCE = 8 << 20

function infoOf(header: DpxHeader): FrameInfo {
  const {
    width,
    height,
    bits,
    channels,
    pixelAspect,
    encodingHint,
    framesPerSecond,
    timeCode,
    imageCounter,
  } = header
  return {
    width,
    height,
    bitDepth: `${bits}-bit`,
    channels,
    pixelAspect,
    ...(encodingHint === undefined ? {} : { encodingHint }),
    ...(framesPerSecond === undefined ? {} : { framesPerSecond }),
    ...(timeCode === undefined ? {} : { timeCode }),
    ...(imageCounter === undefined ? {} : { imageCounter }),
  }
}

/** Colour in the usual order whose every pixel is one word of three samples; else null. */
function pixelWords({ bits, packing, components, rightToLeft, littleEndian }: DpxHeader): PixelWords | null {
  const one = bits === 10 && packing !== 'packed' && components === 3 && !rightToLeft
  return one ? { littleEndian, unused: packing === 'a' ? 2 : 0 } : null
}

/** @param data [rect.h, rect.w, 3] */
function rowOf<Data extends Float32Array | Uint16Array>(data: Data, { w }: Rect, y: number): Data {
  return data.subarray(3 * w * y, 3 * w * (y + 1)) as Data
}

/** Hands the bytes of every row to `use`, with the number of their first sample in it, and which row of `rect` it is. */
async function readRows(
  file: BoundedFile,
  header: DpxHeader,
  rect: Rect,
  use: (row: Buffer, first: number, y: number) => void,
): Promise<void> {
  const { components, stride, dataAt, bottomUp, rightToLeft } = header
  const left = rightToLeft ? header.width - rect.x - rect.w : rect.x
  const top = bottomUp ? header.height - rect.y - rect.h : rect.y
  const first = left * components
  const span = spanOf(header, first, rect.w * components)
  const width = span.to - span.from
  const perRead = Math.max(1, Math.floor(READ_AT_ONCE / stride))
  for (let done = 0; done < rect.h; done += perRead) {
    const rows = Math.min(perRead, rect.h - done)
    const at = dataAt + (top + done) * stride + span.from
    const bytes = await file.read(at, (rows - 1) * stride + width, 'its rows')
    for (let r = 0; r < rows; r++) {
      const y = bottomUp ? rect.h - 1 - done - r : done + r
      use(bytes.subarray(r * stride, r * stride + width), first, y)
    }
  }
}

function storeRow(
  { components, rgb, rightToLeft }: DpxHeader,
  codes: Uint16Array,
  out: Float32Array | Uint16Array,
  sampleOf: (code: number) => number,
): void {
  const [r, g, b] = rgb
  const step = rightToLeft ? -3 : 3
  for (
    let from = 0, to = rightToLeft ? out.length - 3 : 0;
    from < codes.length;
    from += components, to += step
  ) {
    out[to] = sampleOf(codes[from + r]!)
    out[to + 1] = sampleOf(codes[from + g]!)
    out[to + 2] = sampleOf(codes[from + b]!)
  }
}
