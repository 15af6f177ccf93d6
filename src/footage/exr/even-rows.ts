// Uncompressed rows that follow each other in the file, as almost always, taken in by many at once with the leads between them: a
// row by itself would cost more in calls and lists than in copying.
import type { Rect } from '../../raster/rect.js'
import { type BlockShape, hasEveryPixel, shapesOf } from './blocks.js'
import type { Part } from './header.js'
import type { ChunkTable } from './table.js'

/** Rows of a part, each a chunk, the same distance apart. */
export interface EvenRows {
  /** Where the first begins, and how far it is from one to the next, bytes. */
  readonly at: number
  readonly stride: number
  /** The shape of one row. */
  readonly row: BlockShape
}

/**
 * @param need rows of the data window, at least one
 * @param leadBytes what a chunk begins with
 * @param size of the file, bytes
 * @returns null where they lie otherwise, or don't end in the file
 */
export function evenRows(
  part: Part,
  need: Rect,
  table: ChunkTable,
  leadBytes: number,
  size: number,
): EvenRows | null {
  if (part.compression !== 'none' || part.tiling !== null || !hasEveryPixel(part)) return null
  const row = shapesOf(part)({ ...part.dataWindow, h: 1 })
  const stride = leadBytes + row.size
  const first = need.y - part.dataWindow.y
  const at = table.place(first)
  if (at <= 0 || at + need.h * stride > size) return null
  for (let k = 1; k < need.h; k++) if (table.place(first + k) !== at + k * stride) return null
  return { at, stride, row }
}

/**
 * Do rows begin as they should?
 *
 * @param bytes from the first one's lead on
 * @param y     the first row, `rows` of them
 * @param partNumber of a file of several parts
 */
export function leadsAreGood(
  bytes: Buffer,
  { stride, row }: EvenRows,
  y: number,
  rows: number,
  partNumber: number | null,
): boolean {
  const lead = stride - row.size
  for (let r = 0, at = 0; r < rows; r++, at += stride) {
    if (partNumber !== null && bytes.readInt32LE(at) !== partNumber) return false
    if (bytes.readInt32LE(at + lead - 8) !== y + r || bytes.readInt32LE(at + lead - 4) !== row.size)
      return false
  }
  return true
}

/** Several rows as one block, from behind the first one's lead to the end of the last. */
export function joined({ stride, row }: EvenRows, rows: number): BlockShape {
  const rowByRow = row.rowByRow.map((starts) => {
    const all = new Uint32Array(rows)
    for (let r = 0; r < rows; r++) all[r] = starts[0]! + r * stride
    return all
  })
  const channels = row.channels.map((channel) => ({ ...channel, rows }))
  return { ...row, channels, size: (rows - 1) * stride + row.size, rowByRow }
}
