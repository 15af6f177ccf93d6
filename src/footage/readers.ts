// The table of file formats that a plate may be stored in. Adding one is a file that exports a FrameReader, and a row here.
import { extname } from 'node:path'
import type { FrameReader } from './reader.js'

interface ReaderRow {
  readonly extensions: readonly string[]
  readonly load: () => Promise<FrameReader>
}

// Loaded on first use: the EXR codec weighs more than the rest of the tool together.
const READERS: readonly ReaderRow[] = [
  {
    extensions: ['png', 'tif', 'tiff', 'jpg', 'jpeg'],
    load: async () => (await import('./stills/reader.js')).stillReader,
  },
  { extensions: ['exr'], load: async () => (await import('./exr/reader.js')).exrReader },
  { extensions: ['dpx'], load: async () => (await import('./dpx/reader.js')).dpxReader },
]

/** File name endings that a plate's frames may have, lower case, without the dot. */
export const FRAME_EXTENSIONS: readonly string[] = READERS.flatMap((row) => row.extensions)

/** The ending of a file name, lower case, without the dot; empty where it has none. */
export function extensionOf(path: string): string {
  return extname(path).slice(1).toLowerCase()
}

/** The reader for a file by its ending, or null where no reader has it. */
export async function readerFor(path: string): Promise<FrameReader | null> {
  const extension = extensionOf(path)
  const row = READERS.find((r) => r.extensions.includes(extension))
  return row ? row.load() : null
}
