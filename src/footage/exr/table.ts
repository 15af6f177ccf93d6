// Where a part's chunks begin, by the table at the head of the file. Source: openexr.com, "OpenEXR File Layout".
import type { BoundedFile } from '../bounded-file.js'
import { chunksOf } from './blocks.js'
import { bad, type ExrHeader, type Part } from './header.js'

/** Some of a part's entries. */
export interface ChunkTable {
  /** How many the part has in all. */
  readonly count: number
  /** Where a chunk begins, bytes; 0 where it was never written. @param index one of those that were read */
  place(index: number): number
}

/**
 * Reads entries `first` to `last`, and the one behind them if there is one.
 *
 * @throws BadFile where the table is not all in the file, or not as long as the header makes it
 */
export async function readTable(
  file: BoundedFile,
  header: ExrHeader,
  part: Part,
  first: number,
  last: number,
): Promise<ChunkTable> {
  let at = header.tablesAt
  for (const earlier of header.parts.slice(0, part.number)) at += 8 * tableLength(earlier)
  const count = tableLength(part)
  if (at + 8 * count > file.size) {
    throw bad(
      `ends inside its chunk table: ${count} chunks are announced, there are ${file.size} bytes in all`,
    )
  }
  const beyond = Math.min(count, last + 2)
  const table = await file.read(at + 8 * first, 8 * (beyond - first), 'its chunk table')
  return {
    count,
    place: (index) => {
      const entry = 8 * (index - first)
      return table.readUInt32LE(entry) + 2 ** 32 * table.readUInt32LE(entry + 4)
    },
  }
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
