// The chunks of an EXR part as they lie in the file, fetched in few reads: neighbours come together, and each must still
// begin as its place in the table says. Source: openexr.com, "OpenEXR File Layout".
import { codecs } from '../../kernels/codecs.js'
import type { Held } from '../../kernels/workspace.js'
import type { BoundedFile } from '../bounded-file.js'
import { type Block, type BlockShape, chunksOf, hasEveryPixel, shapesOf } from './blocks.js'
import { eachOf } from './each-of.js'
import { bad, type ExrHeader, type Part } from './header.js'

// Neighbours are read together up to so many bytes. Of 476 rows of 24 kB, uncompressed, a rectangle took 51 ms of processor
// row by row, 25 in reads of 128 kB, 17 of 256 kB, 14 of 1 MB; larger reads would only take memory.
const READ_AT_ONCE = 1 << 20

/** What is to be done with a chunk's bytes before the next of its neighbours; they are overwritten afterwards. */
export type UseChunk = (block: Block, shape: BlockShape, data: Buffer) => Promise<void> | undefined

/**
 * Reads chunks and hands each to `use`, some at a time.
 *
 * @param blocks in table order, at least one
 * @throws BadFile where the table or a chunk's lead are not what the header makes them; the first thing that `use` threw
 */
export async function eachChunk(
  file: BoundedFile,
  header: ExrHeader,
  part: Part,
  blocks: readonly Block[],
  use: UseChunk,
): Promise<void> {
  const leadBytes = 4 * ((header.multiPart ? 1 : 0) + (part.tiling === null ? 1 : 4) + 1)
  const shapeOf = shapesOf(part)
  const chunks = await placed(file, header, part, blocks, (block) => leadBytes + shapeOf(block).size)
  const runs = runsOf(chunks)
  const longest = runs.reduce((most, run) => Math.max(most, lengthOf(run)), 0)
  const alone = part.compression === 'none' && part.tiling === null && hasEveryPixel(part)
  // where kernels find them without a copy
  const held = codecs().hold()
  const spare: Buffer[] = []
  try {
    await eachOf(runs, async (run) => {
      const buffer = spare.pop() ?? bufferIn(held, Math.max(longest, READ_AT_ONCE) + 1)
      const window = await readTogether(file, run, leadBytes, buffer)
      const joined = alone && window !== null ? joinRows(window, run, leadBytes, header, part, shapeOf) : null
      if (joined !== null) await use(joined.block, joined.shape, joined.data)
      else {
        for (const { block, at } of run) {
          const shape = shapeOf(block)
          if (at === 0) throw bad(`is not finished: ${nameOf(block)} were never written`)
          const taken = (from: number, length: number) =>
            within(window, from, length) ?? file.read(from, length, nameOf(block))
          const lead = await taken(at, leadBytes)
          const size = sizeIn(lead, header.multiPart ? part.number : null, block, shape.size)
          await use(block, shape, await taken(at + leadBytes, size))
        }
      }
      spare.push(buffer)
    })
  } finally {
    held.release()
  }
}

function bufferIn(held: Held, length: number): Buffer {
  const { buffer, byteOffset } = held.bytes(length)
  return Buffer.from(buffer, byteOffset, length)
}

interface Chunk {
  readonly block: Block
  /** Where it begins in the file; 0 where a frame is still being rendered, as a writer fills the table in last. */
  readonly at: number
  /** Where the next one in the table begins, if that is where it can end; else null. */
  readonly end: number | null
}

/** Chunks by the table, all of which must be in the file. */
async function placed(
  file: BoundedFile,
  header: ExrHeader,
  part: Part,
  blocks: readonly Block[],
  longest: (block: Block) => number,
): Promise<Chunk[]> {
  let at = header.tablesAt
  for (const earlier of header.parts.slice(0, part.number)) at += 8 * tableLength(earlier)
  const count = tableLength(part)
  if (at + 8 * count > file.size) {
    throw bad(
      `ends inside its chunk table: ${count} chunks are announced, there are ${file.size} bytes in all`,
    )
  }
  const first = blocks[0]!.index
  const beyond = Math.min(count, blocks.at(-1)!.index + 2)
  const table = await file.read(at + 8 * first, 8 * (beyond - first), 'its chunk table')
  const entry = (index: number): number => Number(table.readBigUInt64LE(8 * (index - first)))
  return blocks.map((block) => {
    const from = entry(block.index)
    const next = block.index + 1 < beyond ? entry(block.index + 1) : file.size
    const possible = from > 0 && next > from && next <= Math.min(file.size, from + longest(block))
    return { block, at: from, end: possible ? next : null }
  })
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

/** Chunks of which each ends where the next begins. */
function runsOf(chunks: readonly Chunk[]): Chunk[][] {
  const runs: Chunk[][] = []
  for (const chunk of chunks) {
    const run = runs.at(-1)
    const joins = run !== undefined && run.at(-1)!.end === chunk.at
    if (joins && chunk.end !== null && chunk.end - run[0]!.at <= READ_AT_ONCE) run.push(chunk)
    else runs.push([chunk])
  }
  return runs
}

/** What has been read of the file. */
interface Window {
  readonly at: number
  readonly bytes: Buffer
}

function within(window: Window | null, at: number, length: number): Buffer | null {
  if (window === null || at < window.at || at + length > window.at + window.bytes.length) return null
  return window.bytes.subarray(at - window.at, at - window.at + length)
}

function lengthOf(run: readonly Chunk[]): number {
  const { end } = run.at(-1)!
  return end === null ? 0 : end - run[0]!.at
}

/** @param buffer longer than the run */
async function readTogether(
  file: BoundedFile,
  run: readonly Chunk[],
  leadBytes: number,
  buffer: Buffer,
): Promise<Window | null> {
  const { at } = run[0]!
  const { end } = run.at(-1)!
  if (end === null) return null
  // from an even distance to the samples, so that they can be seen as 16-bit words
  const from = at - ((at + leadBytes) & 1)
  return {
    at: from,
    bytes: await file.readInto(buffer.subarray(0, end - from), from, nameOf(run[0]!.block)),
  }
}

/**
 * Rows of uncompressed samples that lie one after the other, as one block with the leads between its rows: each by itself
 * would cost more in calls than in copying.
 *
 * @returns null where there is but one, or where any does not begin or end as it should
 */
function joinRows(
  { at, bytes }: Window,
  run: readonly Chunk[],
  leadBytes: number,
  { multiPart }: ExrHeader,
  part: Part,
  shapeOf: (block: Block) => BlockShape,
): { block: Block; shape: BlockShape; data: Buffer } | null {
  const { block, at: first } = run[0]!
  const shape = shapeOf(block)
  const stride = leadBytes + shape.size
  const begin = first - at
  if (run.length === 1 || begin + run.length * stride > bytes.length) return null
  for (let r = 0, from = begin; r < run.length; r++, from += stride) {
    const y = from + leadBytes - 8
    if (run[r]!.at !== at + from || (multiPart && bytes.readInt32LE(from) !== part.number)) return null
    if (bytes.readInt32LE(y) !== block.y + r || bytes.readInt32LE(y + 4) !== shape.size) return null
  }
  const rows = run.length
  const size = rows * stride - leadBytes
  const rowByRow = shape.rowByRow.map(([start]) =>
    Uint32Array.from({ length: rows }, (_, r) => start! + r * stride),
  )
  const channels = shape.channels.map((channel) => ({ ...channel, rows }))
  return {
    block: { ...block, h: rows },
    shape: { ...shape, channels, size, rowByRow },
    data: bytes.subarray(begin + leadBytes, begin + leadBytes + size),
  }
}

function nameOf({ tile, y }: Block): string {
  return tile === null ? `the rows from ${y}` : `the tile ${tile.join(', ')}`
}

/** How many bytes a chunk has, after its lead has been checked against where it should be. */
function sizeIn(lead: Buffer, partNumber: number | null, block: Block, rawSize: number): number {
  let at = 0
  const check = (expected: number): void => {
    const found = lead.readInt32LE(at)
    if (found !== expected) throw bad(`has ${found} where ${nameOf(block)} should begin with ${expected}`)
    at += 4
  }
  if (partNumber !== null) check(partNumber)
  if (block.tile === null) check(block.y)
  else for (const value of [...block.tile, 0, 0]) check(value)
  const size = lead.readInt32LE(at)
  // a chunk that compression would make larger is stored as it is, so none is larger than its samples
  if (size <= 0 || size > rawSize)
    throw bad(`has ${size} bytes for ${nameOf(block)}, expected 1 to ${rawSize}`)
  return size
}
