// The chunks of an EXR part as they lie in the file, fetched in few reads: neighbours come together, and each must still
// begin as its place in the table says. Source: openexr.com, "OpenEXR File Layout".
import { codecs } from '../../kernels/codecs.js'
import type { Held } from '../../kernels/workspace.js'
import type { Rect } from '../../raster/rect.js'
import type { BoundedFile } from '../bounded-file.js'
import { type Block, type BlockShape, blocksFor, endsOf, shapesOf } from './blocks.js'
import { eachOf } from './each-of.js'
import { type EvenRows, evenRows, joined, leadsAreGood } from './even-rows.js'
import { bad, type ExrHeader, type Part } from './header.js'
import { type ChunkTable, readTable } from './table.js'

// Neighbours are read together up to so many bytes. Of 476 rows of 24 kB, uncompressed, a rectangle took 51 ms of processor
// row by row, 25 in reads of 128 kB, 17 of 256 kB, 14 of 1 MB; larger reads would only take memory.
const READ_AT_ONCE = 1 << 20

/** What is to be done with a chunk's bytes before the next of its neighbours; they are overwritten afterwards. */
export type UseChunk = (block: Block, shape: BlockShape, data: Buffer) => Promise<void> | undefined

/**
 * Reads the chunks under a rectangle and hands each to `use`, some at a time.
 *
 * @param need pixels of the data window, at least one
 * @throws BadFile where the table or a chunk's lead are not what the header makes them; the first thing that `use` threw
 */
export async function eachChunk(
  file: BoundedFile,
  header: ExrHeader,
  part: Part,
  need: Rect,
  use: UseChunk,
): Promise<void> {
  const leadBytes = 4 * ((header.multiPart ? 1 : 0) + (part.tiling === null ? 1 : 4) + 1)
  const [first, last] = endsOf(part, need)
  const table = await readTable(file, header, part, first, last)
  // where kernels find them without a copy
  const held = codecs().hold()
  try {
    const even = evenRows(part, need, table, leadBytes, file.size)
    const reading = { file, header, part, leadBytes, held, use }
    if (even !== null) await eachEven(reading, need, table, even)
    else await eachAlone(reading, need, table)
  } finally {
    held.release()
  }
}

interface Reading {
  readonly file: BoundedFile
  readonly header: ExrHeader
  readonly part: Part
  readonly leadBytes: number
  readonly held: Held
  readonly use: UseChunk
}

async function eachEven(reading: Reading, need: Rect, table: ChunkTable, even: EvenRows): Promise<void> {
  const { file, header, part, leadBytes, held, use } = reading
  const { dataWindow } = part
  const { at, stride } = even
  const most = Math.max(1, Math.floor(READ_AT_ONCE / stride))
  const shapes = new Map<number, BlockShape>()
  const spare: Buffer[] = []
  const runs = Array.from({ length: Math.ceil(need.h / most) }, (_, i) => ({
    ...dataWindow,
    y: need.y + i * most,
    h: Math.min(most, need.h - i * most),
  }))
  await eachOf(runs, async (run) => {
    const { y, h } = run
    const buffer = spare.pop() ?? bufferIn(held, most * stride)
    const begin = at + (y - need.y) * stride
    // Leads and rows are of even lengths: samples lie where they can be seen as 16-bit words.
    const bytes = await file.readInto(buffer.subarray(0, h * stride), begin, `the rows from ${y}`)
    if (leadsAreGood(bytes, even, y, h, header.multiPart ? part.number : null)) {
      const shape = shapes.get(h) ?? joined(even, h)
      shapes.set(h, shape)
      await use({ ...run, index: y - dataWindow.y, tile: null }, shape, bytes.subarray(leadBytes))
    } else await eachAlone(reading, run, table)
    spare.push(buffer)
  })
}

async function eachAlone(
  { file, header, part, leadBytes, held, use }: Reading,
  need: Rect,
  table: ChunkTable,
): Promise<void> {
  const shapeOf = shapesOf(part)
  const chunks = placed(file, table, blocksFor(part, need), (block) => leadBytes + shapeOf(block).size)
  const runs = runsOf(chunks)
  const longest = runs.reduce((most, run) => Math.max(most, lengthOf(run)), 0)
  const spare: Buffer[] = []
  await eachOf(runs, async (run) => {
    const buffer = spare.pop() ?? bufferIn(held, Math.max(longest, READ_AT_ONCE) + 1)
    const window = await readTogether(file, run, leadBytes, buffer)
    for (const { block, at } of run) {
      const shape = shapeOf(block)
      if (at === 0) throw bad(`is not finished: ${nameOf(block)} were never written`)
      const taken = (from: number, length: number) =>
        within(window, from, length) ?? file.read(from, length, nameOf(block))
      const lead = await taken(at, leadBytes)
      const size = sizeIn(lead, header.multiPart ? part.number : null, block, shape.size)
      await use(block, shape, await taken(at + leadBytes, size))
    }
    spare.push(buffer)
  })
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

/** Chunks by the table. @param longest bytes of one at most */
function placed(
  file: BoundedFile,
  table: ChunkTable,
  blocks: readonly Block[],
  longest: (block: Block) => number,
): Chunk[] {
  return blocks.map((block) => {
    const from = table.place(block.index)
    const next = block.index + 1 < table.count ? table.place(block.index + 1) : file.size
    const possible = from > 0 && next > from && next <= Math.min(file.size, from + longest(block))
    return { block, at: from, end: possible ? next : null }
  })
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
