// Pixels of a DPX. AssemblyScript. Source: SMPTE ST 268-1 (268M-2003), annex C.

/**
 * Puts the three samples of 10 bits that each 32-bit word holds through a table, the one on top first.
 *
 * @param words  `count` of them, little-endian if `little` is not 0
 * @param unused bits below the samples, 0 or 2
 * @param table  1024 16-bit words
 * @param out    receives 3 x count 16-bit words
 */
export function tenBits(words: usize, count: i32, little: i32, unused: i32, table: usize, out: usize): void {
  // an index into the table is twice the code: one bit less to shift down
  const mask: u32 = 1023 << 1
  const down = <u32>unused
  for (const end = words + ((<usize>count) << 2); words < end; words += 4, out += 6) {
    let word = load<u32>(words)
    if (little === 0) word = bswap<u32>(word)
    const samples = word >> down
    store<u16>(out, load<u16>(table + <usize>((samples >> 19) & mask)))
    store<u16>(out, load<u16>(table + <usize>((samples >> 9) & mask)), 2)
    store<u16>(out, load<u16>(table + <usize>((samples << 1) & mask)), 4)
  }
}
