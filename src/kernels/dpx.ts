// Pixels of a DPX.
import type { Workspace } from './workspace.js'

/** How three samples of 10 bits lie in a 32-bit word, the first on top. */
export interface PixelWords {
  readonly littleEndian: boolean
  /** Bits below them. */
  readonly unused: 0 | 2
}

/**
 * Puts the samples of 32-bit words through a table.
 *
 * @param words four bytes a pixel
 * @param table 1024 entries
 * @param out   [pixels, 3]
 */
export function tenBits(
  workspace: Workspace,
  words: Readonly<Uint8Array>,
  { littleEndian, unused }: PixelWords,
  table: Readonly<Uint16Array>,
  out: Uint16Array,
): void {
  workspace.run((kernels, room) =>
    kernels.tenBits(
      room.read(words),
      words.length >> 2,
      littleEndian ? 1 : 0,
      unused,
      room.read(table),
      room.write(out),
    ),
  )
}
