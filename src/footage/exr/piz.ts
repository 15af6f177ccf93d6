// PIZ: 16-bit words are renumbered densely, wavelet transformed per channel, and Huffman coded. A 32-bit sample is two
// words that are transformed apart. Source: openexr.com, "Technical Introduction"; word order as in OpenEXR 3.1 (ImfPiz).
import { codecs, wordsIn } from '../../kernels/codecs.js'
import { lookUp, undoWavelet } from '../../kernels/wavelet.js'
import type { Scratch } from '../../kernels/workspace.js'
import { type BlockShape, samplesOf, type Wanted } from './blocks.js'
import { bad } from './header.js'
import { decodeHuffman } from './huffman.js'

const WORDS = 65536
const BITMAP_BYTES = WORDS / 8

/**
 * @param scratch of `codecs()`
 * @returns the samples channel by channel, of which only those that are wanted are right. @throws BadFile
 */
export function decodePiz(
  scratch: Scratch,
  data: Uint8Array,
  { channels, size }: BlockShape,
  wanted: Wanted,
): Uint8Array {
  const view = new DataView(data.buffer, data.byteOffset, data.byteLength)
  if (data.length < 4) throw bad('has a PIZ chunk that ends in its lead')
  const first = view.getUint16(0, true)
  const last = view.getUint16(2, true)
  const bitmapBytes = first <= last ? last - first + 1 : 0
  if (last >= BITMAP_BYTES || data.length < 8 + bitmapBytes)
    throw bad('has a PIZ chunk with a broken table of values')
  const { buffer, byteOffset } = scratch.zeros(WORDS / 2)
  const table = new Uint16Array(buffer, byteOffset, WORDS)
  const highest = valuesUsed(data.subarray(4, 4 + bitmapBytes), first, table)
  const length = view.getUint32(4 + bitmapBytes, true)
  const codes = data.subarray(8 + bitmapBytes)
  if (length > codes.length) throw bad(`has a PIZ chunk of ${codes.length} bytes, ${length} are announced`)
  // one code of at least a bit and a count of 8 stand for up to 256 words
  if (size / 2 > codes.length * 256) throw bad(`has ${codes.length} bytes of PIZ that can't become ${size}`)
  const bytes = scratch.bytes(size)
  const words = decodeHuffman(codes.subarray(0, length), size / 2, wordsIn(bytes))
  let at = 0
  for (const [c, channel] of channels.entries()) {
    const { columns, rows } = channel
    const step = channel.bytes / 2
    const pitch = columns * step
    const plane = words.subarray(at, at + rows * pitch)
    at += rows * pitch
    if (!wanted.channels.includes(c)) continue
    const [from, to] = samplesOf(channel, wanted)
    for (let part = 0; part < step; part++) {
      const data = plane.subarray(part)
      undoWavelet(codecs(), { data, columns, step, rows, pitch }, highest, from, to)
    }
    lookUp(codecs(), plane.subarray(from * step), (to - from) * step, rows, pitch, table)
  }
  return bytes
}

/** Fills in the words that occur, in order; zero always counts as occurring. @returns the highest number given to one */
function valuesUsed(bitmap: Uint8Array, firstByte: number, table: Uint16Array): number {
  let count = 1
  for (let i = 0; i < bitmap.length; i++) {
    if (bitmap[i] === 0) continue
    for (let bit = 0; bit < 8; bit++) {
      const word = (firstByte + i) * 8 + bit
      if (word > 0 && (bitmap[i]! >> bit) & 1) table[count++] = word
    }
  }
  return count - 1
}
