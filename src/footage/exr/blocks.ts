// Where the pixels of an EXR part lie in the file: its chunks (blocks of rows, or tiles) and which of them a rectangle
// needs. Source: openexr.com, "OpenEXR File Layout".
import { intersect, isEmpty, type Rect } from '../../raster/rect.js'
import type { BoundedFile } from '../bounded-file.js'
import { bad, type Channel, type Compression, type ExrHeader, type Part, type Tiling } from './header.js'

/** One chunk of a part: its place in the chunk table and the pixels it holds, in the data window's coordinates. */
export interface Block extends Rect {
  readonly index: number
  /** Column and row of a tile; null for a block of rows. */
  readonly tile: readonly [column: number, row: number] | null
}

/** One channel inside a block. A subsampled channel has fewer columns and rows than the block. */
export interface BlockChannel extends Channel {
  readonly columns: number
  readonly rows: number
  /** Bytes of one sample. */
  readonly bytes: 2 | 4
}

export interface BlockShape {
  readonly block: Rect
  readonly channels: readonly BlockChannel[]
  /** Bytes of all samples, uncompressed. */
  readonly size: number
}

const ROWS: Readonly<Record<Compression, number>> = {
  none: 1,
  rle: 1,
  zips: 1,
  zip: 16,
  piz: 32,
  pxr24: 16,
  b44: 32,
  b44a: 32,
  dwaa: 32,
  dwab: 256,
}

// 256 rows of 16,384 pixels with 60 float channels; nothing sensible comes near
const BLOCK_SIZE_LIMIT = 1 << 30

/** Samples of a channel within `length` pixels from `start`: those whose coordinate is a multiple of the sampling. */
export function samplesWithin(start: number, length: number, sampling: number): number {
  return Math.floor((start + length - 1) / sampling) - Math.ceil(start / sampling) + 1
}

export function shapeOf(part: Part, block: Rect): BlockShape {
  let size = 0
  const channels = part.channels.map((channel): BlockChannel => {
    const columns = samplesWithin(block.x, block.w, channel.xSampling)
    const rows = samplesWithin(block.y, block.h, channel.ySampling)
    const bytes = channel.type === 'half' ? 2 : 4
    size += columns * rows * bytes
    return { ...channel, columns, rows, bytes }
  })
  if (size > BLOCK_SIZE_LIMIT) throw bad(`has chunks of ${size} bytes, at most ${BLOCK_SIZE_LIMIT} are read`)
  return { block, channels, size }
}

/** The chunks that a rectangle needs, in table order. */
export function blocksFor({ dataWindow, tiling, compression }: Part, wanted: Rect): Block[] {
  const need = intersect(wanted, dataWindow)
  if (isEmpty(need)) return []
  const width = tiling?.width ?? dataWindow.w
  const height = tiling?.height ?? ROWS[compression]
  const across = Math.ceil(dataWindow.w / width)
  const first = { column: div(need.x - dataWindow.x, width), row: div(need.y - dataWindow.y, height) }
  const last = {
    column: div(need.x + need.w - 1 - dataWindow.x, width),
    row: div(need.y + need.h - 1 - dataWindow.y, height),
  }
  const blocks: Block[] = []
  for (let row = first.row; row <= last.row; row++) {
    for (let column = first.column; column <= last.column; column++) {
      const place = { x: dataWindow.x + column * width, y: dataWindow.y + row * height, w: width, h: height }
      const tile = tiling === null ? null : ([column, row] as const)
      blocks.push({ ...intersect(place, dataWindow), index: row * across + column, tile })
    }
  }
  return blocks
}

function div(a: number, b: number): number {
  return Math.floor(a / b)
}

/** How many chunks a part has, all levels of its tiles together. */
export function chunksOf({ dataWindow: { w, h }, tiling, compression }: Part): number {
  if (tiling === null) return Math.ceil(h / ROWS[compression])
  const tiles = (level: number, side: number, tile: number): number =>
    Math.ceil(levelSize(side, level, tiling) / tile)
  let count = 0
  if (tiling.levels === 'rip') {
    for (let ly = 0; ly < levelsOf(h, tiling); ly++) {
      for (let lx = 0; lx < levelsOf(w, tiling); lx++)
        count += tiles(lx, w, tiling.width) * tiles(ly, h, tiling.height)
    }
    return count
  }
  const levels = tiling.levels === 'one' ? 1 : levelsOf(Math.max(w, h), tiling)
  for (let l = 0; l < levels; l++) count += tiles(l, w, tiling.width) * tiles(l, h, tiling.height)
  return count
}

function levelsOf(side: number, { roundUp }: Tiling): number {
  const floor = 31 - Math.clz32(side)
  return (roundUp && side > 2 ** floor ? floor + 1 : floor) + 1
}

function levelSize(side: number, level: number, { roundUp }: Tiling): number {
  return Math.max(1, roundUp ? Math.ceil(side / 2 ** level) : Math.floor(side / 2 ** level))
}

/** The offset table entries of a run of chunks of one part; checks that the whole table is in the file. */
export async function readOffsets(
  file: BoundedFile,
  header: ExrHeader,
  part: Part,
  blocks: readonly Block[],
): Promise<(block: Block) => number> {
  let at = header.tablesAt
  for (const earlier of header.parts.slice(0, part.number)) at += 8 * tableLength(earlier)
  const count = tableLength(part)
  if (at + 8 * count > file.size) {
    throw bad(
      `ends inside its chunk table: ${count} chunks are announced, there are ${file.size} bytes in all`,
    )
  }
  const first = blocks[0]!.index
  const entries = blocks.at(-1)!.index - first + 1
  const table = await file.read(at + 8 * first, 8 * entries, 'its chunk table')
  return ({ index }) => Number(table.readBigUInt64LE(8 * (index - first)))
}

function tableLength(part: Part): number {
  if (part.deep) {
    if (part.chunkCount !== null && part.chunkCount >= 0) return part.chunkCount
    throw bad('has no "chunkCount" for a deep part')
  }
  const count = chunksOf(part)
  if (part.chunkCount !== null && part.chunkCount !== count) {
    throw bad(`announces ${part.chunkCount} chunks, its windows make ${count}`)
  }
  return count
}

/** The compressed bytes of one chunk, after its lead has been checked against where it should be. */
export async function readBlock(
  file: BoundedFile,
  multiPart: boolean,
  part: Part,
  { block, size: rawSize }: { block: Block; size: number },
  offset: number,
): Promise<Buffer> {
  const what = block.tile === null ? `the rows from ${block.y}` : `the tile ${block.tile.join(', ')}`
  // a writer fills the table in last, so a frame that is still being rendered has zeros there
  if (offset === 0) throw bad(`is not finished: ${what} were never written`)
  const place = block.tile === null ? [block.y] : [...block.tile, 0, 0]
  const expected = multiPart ? [part.number, ...place] : place
  const lead = await file.read(offset, 4 * expected.length + 4, what)
  const wrong = expected.findIndex((value, i) => lead.readInt32LE(4 * i) !== value)
  if (wrong >= 0) {
    throw bad(`has ${lead.readInt32LE(4 * wrong)} where ${what} should begin with ${expected[wrong]}`)
  }
  const size = lead.readInt32LE(4 * expected.length)
  // a chunk that compression would make larger is stored as it is, so none is larger than its samples
  if (size <= 0 || size > rawSize) throw bad(`has ${size} bytes for ${what}, expected 1 to ${rawSize}`)
  return file.read(offset + lead.length, size, what)
}
