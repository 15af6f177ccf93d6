// The Huffman code of PIZ and DWA. Source: the bit stream that OpenEXR writes (OpenEXR 3.1, ImfHuf).
import { codecs } from '../../kernels/codecs.js'
import { huffman } from '../../kernels/huffman.js'
import { bad } from './header.js'

/**
 * Decodes `count` symbols.
 *
 * @param data the packed code lengths and the codes, with OpenEXR's 20-byte lead
 * @param out  receives them
 * @throws BadFile where the codes end early, make more symbols than wanted, or can't be codes
 */
export function decodeHuffman(
  data: Uint8Array,
  count: number,
  out: Uint16Array = new Uint16Array(count),
): Uint16Array {
  if (count === 0 && data.length === 0) return out
  const fault = huffman(codecs(), data, out)
  if (fault !== null) throw bad(`has a broken chunk: its Huffman code ${fault}`)
  return out
}
