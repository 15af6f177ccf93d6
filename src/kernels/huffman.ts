// Huffman codes of 16-bit symbols.
import type { Workspace } from './workspace.js'

const SYMBOLS = 65537
const TABLE_BITS = 13
const LONGEST_CODE = 48

/** By the number that the kernel answers with; what it says of it beside. */
const FAULTS: readonly ((a: number, b: number) => string)[] = [
  () => 'has no lead',
  (first, last) => `covers symbols ${first} to ${last}`,
  () => 'ends inside its table',
  () => 'has a table with too many symbols',
  (bits) => `ends before its ${bits} bits`,
  (bits) => `has a code of ${bits} bits`,
  () => 'has more codes than fit',
  () => 'ends early',
  () => 'repeats beyond its chunk',
  () => 'has bits that are no code',
]

/**
 * Decodes as many symbols as `out` has room for.
 *
 * @param data the packed code lengths and the codes, with OpenEXR's 20-byte lead; any bytes
 * @param out  of the workspace if it is not to be copied out of it
 * @returns what is wrong with the data, in the words that follow "its Huffman code", or null
 */
export function huffman(workspace: Workspace, data: Readonly<Uint8Array>, out: Uint16Array): string | null {
  return workspace.run((kernels, room) => {
    const fault = kernels.huffman(
      room.read(data),
      data.length,
      room.write(out),
      out.length,
      room.space(SYMBOLS),
      room.space(4 * SYMBOLS),
      room.space(4 << TABLE_BITS),
      room.space(4 * 4 * (LONGEST_CODE + 1)),
      room.answer.byteOffset,
    )
    return fault === 0 ? null : FAULTS[fault - 1](room.answer[0], room.answer[1])
  })
}
