// Where the pixels of an EXR part lie in the file: its chunks (blocks of rows, or tiles) and which of them a rectangle
// needs. Source: openexr.com, "OpenEXR File Layout".
import { intersect, type Rect } from '../../raster/rect.js'
import { bad, type Channel, type Compression, type Part, type Tiling } from './header.js'

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
  readonly channels: readonly BlockChannel[]
  /** Bytes of all samples, uncompressed, and of what lies between rows. */
  readonly size: number
  /** Which channels each row of pixels has, in turn: a subsampled channel is not in every one. */
  readonly inOrder: readonly number[]
  /** Where every row of every channel begins, bytes, when samples lie row after row. [channel][row of that channel] */
  readonly rowByRow: readonly Uint32Array[]
  /** The same when they lie channel after channel. */
  readonly channelByChannel: readonly Uint32Array[]
}

/** What of a block's samples is asked for: others need not be decoded. */
export interface Wanted {
  /** Channels by their place in the part's list. */
  readonly channels: readonly number[]
  /** First column of pixels, counted from the block's own, and `to` behind the last. */
  readonly from: number
  readonly to: number
}

/** Samples of a channel's row that lie in the columns wanted, from the first to behind the last. */
export function samplesOf(channel: BlockChannel, { from, to }: Wanted): readonly [from: number, to: number] {
  const { columns, xSampling } = channel
  return [Math.floor(from / xSampling), Math.min(columns, Math.ceil(to / xSampling))]
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

/** Whether every channel has a sample for every pixel. */
export function hasEveryPixel({ channels }: Pick<Part, 'channels'>): boolean {
  return channels.every((c) => c.xSampling === 1 && c.ySampling === 1)
}

/** Shapes of a part's blocks, each made once: where no channel is subsampled, blocks of a size are alike. */
export function shapesOf(part: Part): (block: Rect) => BlockShape {
  if (!hasEveryPixel(part)) return (block) => shapeOf(part, block)
  const known: { readonly w: number; readonly h: number; readonly shape: BlockShape }[] = []
  return (block) => {
    for (const { w, h, shape } of known) if (w === block.w && h === block.h) return shape
    const shape = shapeOf(part, block)
    known.push({ w: block.w, h: block.h, shape })
    return shape
  }
}

function shapeOf(part: Part, block: Rect): BlockShape {
  let size = 0
  const channels = part.channels.map((channel): BlockChannel => {
    const columns = samplesWithin(block.x, block.w, channel.xSampling)
    const rows = samplesWithin(block.y, block.h, channel.ySampling)
    const bytes = channel.type === 'half' ? 2 : 4
    size += columns * rows * bytes
    return { ...channel, columns, rows, bytes }
  })
  if (size > BLOCK_SIZE_LIMIT) throw bad(`has chunks of ${size} bytes, at most ${BLOCK_SIZE_LIMIT} are read`)
  const inOrder: number[] = []
  for (let y = block.y; y < block.y + block.h; y++) {
    for (const [c, { ySampling }] of channels.entries()) if (y % ySampling === 0) inOrder.push(c)
  }
  const rowByRow = channels.map(({ rows }) => new Uint32Array(rows))
  const filled = channels.map(() => 0)
  let at = 0
  for (const c of inOrder) {
    rowByRow[c]![filled[c]!++] = at
    at += channels[c]!.columns * channels[c]!.bytes
  }
  at = 0
  const channelByChannel = channels.map(({ columns, rows, bytes }) => {
    const starts = Uint32Array.from({ length: rows }, (_, row) => at + row * columns * bytes)
    at += rows * columns * bytes
    return starts
  })
  return { channels, size, inOrder, rowByRow, channelByChannel }
}

/** Which of a part's chunks, counted across and down, a rectangle needs, and their size. */
function gridUnder({ dataWindow, tiling, compression }: Part, need: Rect) {
  const width = tiling?.width ?? dataWindow.w
  const height = tiling?.height ?? ROWS[compression]
  return {
    width,
    height,
    across: Math.ceil(dataWindow.w / width),
    first: { column: div(need.x - dataWindow.x, width), row: div(need.y - dataWindow.y, height) },
    last: {
      column: div(need.x + need.w - 1 - dataWindow.x, width),
      row: div(need.y + need.h - 1 - dataWindow.y, height),
    },
  }
}

/** Places in the table of the first chunk and the last that a rectangle needs. @param need pixels of the data window, at least one */
export function endsOf(part: Part, need: Rect): readonly [first: number, last: number] {
  const { across, first, last } = gridUnder(part, need)
  return [first.row * across + first.column, last.row * across + last.column]
}

/** The chunks that a rectangle needs, in table order. @param need as endsOf has it */
export function blocksFor(part: Part, need: Rect): Block[] {
  const { dataWindow, tiling } = part
  const { width, height, across, first, last } = gridUnder(part, need)
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
