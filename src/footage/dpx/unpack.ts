// The samples of a DPX row. Source: SMPTE ST 268-1 (268M-2003), annex C (packing).
import type { DpxLayout } from './header.js'

/** Bytes of a row that hold samples [first, first + count): from the start of their first 32-bit word to the end of their last. */
export function spanOf(layout: DpxLayout, first: number, count: number): { from: number; to: number } {
  const { bits, packing } = layout
  if (bits === 8) return { from: first, to: first + count }
  if (bits === 16 || (bits === 12 && packing !== 'packed'))
    return { from: 2 * first, to: 2 * (first + count) }
  if (packing === 'packed') {
    return { from: 4 * Math.floor((first * bits) / 32), to: 4 * Math.ceil(((first + count) * bits) / 32) }
  }
  return { from: 4 * Math.floor(first / 3), to: 4 * Math.ceil((first + count) / 3) }
}

/**
 * Unpacks samples of one row.
 *
 * @param row the bytes of `spanOf`
 * @param first number of the first sample in the row: pixel times components
 * @param codes where the integers go; its length says how many
 */
export function unpackRow(layout: DpxLayout, row: Buffer, first: number, codes: Uint16Array): void {
  const { bits, packing, littleEndian } = layout
  if (bits === 8) {
    codes.set(row.subarray(0, codes.length))
    return
  }
  const view = new DataView(row.buffer, row.byteOffset, row.byteLength)
  if (bits === 16 || (bits === 12 && packing !== 'packed')) {
    const shift = bits === 12 && packing === 'a' ? 4 : 0
    const mask = bits === 12 ? 0xfff : 0xffff
    for (let i = 0; i < codes.length; i++) codes[i] = (view.getUint16(2 * i, littleEndian) >> shift) & mask
    return
  }
  if (packing === 'packed') unpackPacked(view, bits, littleEndian, first, codes)
  else unpackFilled10(view, layout, first, codes)
}

/** Three samples of 10 bits to a 32-bit word. */
function unpackFilled10(view: DataView, layout: DpxLayout, first: number, codes: Uint16Array): void {
  const { packing, littleEndian, components } = layout
  const pad = packing === 'a' ? 2 : 0
  let slot = first % 3
  let word = view.getUint32(0, littleEndian)
  for (let i = 0, at = 0; i < codes.length; i++) {
    // Colour has its first sample on top, luma at the bottom. Readers disagree on luma; this is how FFmpeg takes it.
    const shift = (components === 1 ? slot : 2 - slot) * 10 + pad
    codes[i] = (word >>> shift) & 0x3ff
    if (++slot === 3 && i + 1 < codes.length) {
      slot = 0
      at += 4
      word = view.getUint32(at, littleEndian)
    }
  }
}

/** Samples without gaps, the first in the lowest bits of the first 32-bit word. */
function unpackPacked(
  view: DataView,
  bits: number,
  littleEndian: boolean,
  first: number,
  codes: Uint16Array,
): void {
  const mask = (1 << bits) - 1
  const origin = 32 * Math.floor((first * bits) / 32)
  for (let i = 0; i < codes.length; i++) {
    const bit = (first + i) * bits - origin
    const at = (bit >>> 5) * 4
    const offset = bit & 31
    let value = view.getUint32(at, littleEndian) >>> offset
    if (offset + bits > 32) value |= view.getUint32(at + 4, littleEndian) << (32 - offset)
    codes[i] = value & mask
  }
}
