// PIZ: 16-bit words are renumbered densely, wavelet transformed per channel, and Huffman coded. A 32-bit sample is two
// words that are transformed apart. Source: openexr.com, "Technical Introduction"; word order as in OpenEXR 3.1 (ImfPiz).
import type { BlockShape } from './blocks.js'
import { bad } from './header.js'
import { decodeHuffman } from './huffman.js'

const WORDS = 65536
const BITMAP_BYTES = WORDS / 8

/** @returns the samples channel by channel. @throws BadFile */
export function decodePiz(data: Uint8Array, { channels, size }: BlockShape): Uint8Array {
  const view = new DataView(data.buffer, data.byteOffset, data.byteLength)
  if (data.length < 4) throw bad('has a PIZ chunk that ends in its lead')
  const first = view.getUint16(0, true)
  const last = view.getUint16(2, true)
  const bitmapBytes = first <= last ? last - first + 1 : 0
  if (last >= BITMAP_BYTES || data.length < 8 + bitmapBytes)
    throw bad('has a PIZ chunk with a broken table of values')
  const { table, highest } = valuesUsed(data.subarray(4, 4 + bitmapBytes), first)
  const length = view.getUint32(4 + bitmapBytes, true)
  const codes = data.subarray(8 + bitmapBytes)
  if (length > codes.length) throw bad(`has a PIZ chunk of ${codes.length} bytes, ${length} are announced`)
  // one code of at least a bit and a count of 8 stand for up to 256 words
  if (size / 2 > codes.length * 256) throw bad(`has ${codes.length} bytes of PIZ that can't become ${size}`)
  const words = decodeHuffman(codes.subarray(0, length), size / 2)
  let at = 0
  for (const { columns, rows, bytes } of channels) {
    const step = bytes / 2
    for (let part = 0; part < step; part++)
      undoWavelet(words, at + part, columns, step, rows, columns * step, highest)
    at += columns * rows * step
  }
  const out = new Uint8Array(size)
  for (let i = 0, to = 0; i < words.length; i++, to += 2) {
    const word = table[words[i]!]!
    out[to] = word
    out[to + 1] = word >>> 8
  }
  return out
}

/** The words that occur, in order; zero always counts as occurring. `highest` is the highest number given to one. */
function valuesUsed(bitmap: Uint8Array, firstByte: number): { table: Uint16Array; highest: number } {
  const table = new Uint16Array(WORDS)
  let count = 1
  for (let i = 0; i < bitmap.length; i++) {
    for (let bit = 0; bit < 8; bit++) {
      const word = (firstByte + i) * 8 + bit
      if (word > 0 && (bitmap[i]! >> bit) & 1) table[count++] = word
    }
  }
  return { table, highest: count - 1 }
}

/**
 * Undoes the two-dimensional Haar wavelet in place, from the coarsest level to the finest.
 *
 * @param at index of the first word; `stepX` and `stepY` lead to the neighbours
 * @param highest largest word that was transformed: below 2^14 sums keep their sign, above they wrap
 */
function undoWavelet(
  words: Uint16Array,
  at: number,
  width: number,
  stepX: number,
  height: number,
  stepY: number,
  highest: number,
): void {
  const pair = highest < 1 << 14 ? undoPairSigned : undoPairWrapped
  let span = 1
  while (span * 2 <= Math.min(width, height)) span *= 2
  for (; span >= 2; span >>= 1) {
    const half = span >> 1
    const right = half * stepX
    const below = half * stepY
    let y = 0
    for (; y + span <= height; y += span) {
      let i = at + y * stepY
      let x = 0
      for (; x + span <= width; x += span, i += span * stepX) {
        pair(words, i, i + below)
        pair(words, i + right, i + below + right)
        pair(words, i, i + right)
        pair(words, i + below, i + below + right)
      }
      if (width & half) pair(words, i, i + below)
    }
    if (height & half) {
      let i = at + y * stepY
      for (let x = 0; x + span <= width; x += span, i += span * stepX) pair(words, i, i + right)
    }
  }
}

/** From mean and difference back to two words; both signed, the mean rounded towards minus infinity. */
function undoPairSigned(words: Uint16Array, a: number, b: number): void {
  const mean = (words[a]! << 16) >> 16
  const difference = (words[b]! << 16) >> 16
  const first = mean + (difference & 1) + (difference >> 1)
  words[a] = first
  words[b] = first - difference
}

/** The same modulo 2^16, where the mean is offset by half the range. */
function undoPairWrapped(words: Uint16Array, a: number, b: number): void {
  const difference = words[b]!
  const second = (words[a]! - (difference >> 1)) & 0xffff
  words[b] = second
  words[a] = difference + second - 0x8000
}
