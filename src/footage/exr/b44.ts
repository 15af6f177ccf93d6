// B44 and B44A: half samples in 4 x 4 blocks of 14 bytes (B44A: flat blocks of 3), other types as they are.
// Source: openexr.com, "Technical Introduction"; bit order as in OpenEXR 3.1 (ImfB44).
import { bitsToHalf, halfToFloat } from '../../raster/half.js'
import { type BlockShape, samplesOf, type Wanted } from './blocks.js'
import { bad } from './header.js'

const PACKED_BYTES = 14
const FLAT_BYTES = 3
// a shift of 13 or more can't occur in a block of 14 bytes; it marks a flat one
const FLAT = 13 << 2

/**
 * @param out receives the samples channel by channel; only those that are wanted are right
 * @throws BadFile where the chunk is shorter or longer than its blocks
 */
export function decodeB44(
  out: Uint8Array,
  data: Uint8Array,
  { channels, size }: BlockShape,
  wanted: Wanted,
): Uint8Array {
  // 3 bytes stand for 32 at most
  if (size > data.length * 11) throw bad(`has ${data.length} bytes of B44 that can't become ${size}`)
  const block = new Uint16Array(16)
  let from = 0
  let to = 0
  const need = (bytes: number): void => {
    if (from + bytes > data.length)
      throw bad(`has a B44 chunk of ${data.length} bytes that ends inside a block`)
  }
  for (const [c, channel] of channels.entries()) {
    const { columns, rows, bytes, type, pLinear } = channel
    const [first, last] = wanted.channels.includes(c) ? samplesOf(channel, wanted) : [0, 0]
    const length = columns * rows * bytes
    if (type !== 'half') {
      need(length)
      out.set(data.subarray(from, from + length), to)
      from += length
      to += length
      continue
    }
    for (let y = 0; y < rows; y += 4) {
      for (let x = 0; x < columns; x += 4) {
        need(FLAT_BYTES)
        const flat = data[from + 2]! >= FLAT
        need(flat ? FLAT_BYTES : PACKED_BYTES)
        const at = from
        from += flat ? FLAT_BYTES : PACKED_BYTES
        if (x + 4 <= first || x >= last) continue
        if (flat) block.fill((data[at]! << 8) | data[at + 1]!)
        else unpack(data, at, block)
        for (let i = 0; i < 16; i++) {
          const [px, py] = [x + (i & 3), y + (i >> 2)]
          if (px >= columns || py >= rows) continue
          const half = pLinear ? fromExponential(fromOrdered(block[i]!)) : fromOrdered(block[i]!)
          const place = to + (py * columns + px) * 2
          out[place] = half
          out[place + 1] = half >>> 8
        }
      }
    }
    to += length
  }
  if (from !== data.length) throw bad(`has a B44 chunk of ${data.length} bytes, its blocks take ${from}`)
  return out
}

/**
 * A block: 16 bits of its first sample, 6 bits of shift, then 15 differences of 6 bits. The first column is told from top
 * to bottom, every other sample by its neighbour on the left.
 */
function unpack(data: Uint8Array, from: number, block: Uint16Array): void {
  const shift = data[from + 2]! >> 2
  const zero = 0x20 << shift
  block[0] = (data[from]! << 8) | data[from + 1]!
  let bit = 8 * from + 22
  for (let column = 0; column < 4; column++) {
    for (let row = column === 0 ? 1 : 0; row < 4; row++, bit += 6) {
      const i = row * 4 + column
      const before = block[column === 0 ? i - 4 : i - 1]!
      const word = (data[bit >> 3]! << 8) | (data[(bit >> 3) + 1] ?? 0)
      const difference = (word >> (10 - (bit & 7))) & 63
      block[i] = before + (difference << shift) - zero
    }
  }
}

/** Samples are ordered like unsigned numbers: positive halves with the top bit set, negative ones inverted. */
function fromOrdered(word: number): number {
  return word & 0x8000 ? word & 0x7fff : ~word & 0xffff
}

/** Perceptually linear channels are stored as exp(v / 8). */
function fromExponential(half: number): number {
  const value = halfToFloat(half)
  if (!(value > 0 && value < Number.POSITIVE_INFINITY)) return 0
  scratch[0] = 8 * Math.log(value)
  return bitsToHalf(scratchBits[0]!)
}
const scratch = new Float32Array(1)
const scratchBits = new Uint32Array(scratch.buffer)
