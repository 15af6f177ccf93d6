// The Huffman code of PIZ and DWA: canonical codes for 16-bit symbols, the last of which repeats the symbol before it.
// AssemblyScript. Source: the bit stream that OpenEXR writes (OpenEXR 3.1, ImfHuf). Symbols out of a broken stream are
// refused at the first that has no code or no room, so that decoding always ends.

const SYMBOLS: i32 = 65537
/** Code lengths as stored, six bits each: 59 to 62 stand for 2 to 5 symbols without a code, 63 for 6 and more. */
const SHORT_RUN: i32 = 59
const LONG_RUN: i32 = 63
const SHORTEST_LONG_RUN: i32 = 6
/** OpenEXR allows 58, but more than 48 takes a chunk of 2^33 symbols. */
const LONGEST_CODE: i32 = 48
/** Codes up to this many bits are found in one step. */
const TABLE_BITS: i32 = 13
/** Of 64 bits, those behind the ones that are looked up. */
const UNUSED: u64 = 64 - <u64>TABLE_BITS
const LEAD_BYTES: i32 = 20

// What is wrong, for the wrapper to say.
const LEAD: i32 = 1
const COVERS: i32 = 2
const TABLE_ENDS: i32 = 3
const TABLE_OVERFLOWS: i32 = 4
const TOO_FEW_BYTES: i32 = 5
const LONG_CODE: i32 = 6
const TOO_MANY_CODES: i32 = 7
const ENDS_EARLY: i32 = 8
const REPEATS: i32 = 9
const NO_CODE: i32 = 10

/**
 * Decodes `count` symbols.
 *
 * @param data    OpenEXR's lead of 20 bytes, the packed code lengths, the codes; any bytes
 * @param out     receives as many 16-bit symbols
 * @param lengths room for 65537 bytes
 * @param sorted  room for 65537 32-bit integers
 * @param table   room for 2^13 32-bit integers: symbol * 64 + length by the next 13 bits, 0 where the code is
 *   longer, with the sign bit set for the symbol that repeats
 * @param codes   room for 4 x 49 32-bit integers
 * @param said    receives two float64 that say more of what is wrong
 * @returns 0, or which of the above is wrong
 */
export function huffman(
  data: usize,
  length: i32,
  out: usize,
  count: i32,
  lengths: usize,
  sorted: usize,
  table: usize,
  codes: usize,
  said: usize,
): i32 {
  if (length < LEAD_BYTES) return LEAD
  const first = load<u32>(data)
  const last = load<u32>(data, 4)
  const bits = <i64>load<u32>(data, 12)
  store<f64>(said, <f64>first)
  store<f64>(said, <f64>last, 8)
  if (first >= <u32>SYMBOLS || last >= <u32>SYMBOLS || first > last) return COVERS
  const codesAt = unpackLengths(data, length, <i32>first, <i32>last, lengths)
  if (codesAt < 0) return -codesAt
  store<f64>(said, <f64>bits)
  if (bits > 8 * <i64>(length - codesAt)) return TOO_FEW_BYTES
  const wrong = makeCodes(lengths, <i32>first, <i32>last, sorted, table, codes, said)
  if (wrong !== 0) return wrong
  return decode(data + <usize>codesAt, bits, sorted, table, codes, <i32>last, out, count)
}

/** @returns where the codes begin, or less than 0 */
function unpackLengths(data: usize, length: i32, first: i32, last: i32, lengths: usize): i32 {
  memory.fill(lengths + <usize>first, 0, <usize>(last - first + 1))
  let at = LEAD_BYTES
  let held: u32 = 0
  let heldBits = 0
  for (let symbol = first; symbol <= last; ) {
    if (heldBits < 6) {
      if (at >= length) return -TABLE_ENDS
      held = (held << 8) | load<u8>(data + <usize>at)
      at++
      heldBits += 8
    }
    heldBits -= 6
    const code = <i32>((held >> heldBits) & 63)
    if (code < SHORT_RUN) {
      store<u8>(lengths + <usize>symbol, <u8>code)
      symbol++
      continue
    }
    let run = code - SHORT_RUN + 2
    if (code === LONG_RUN) {
      if (heldBits < 8) {
        if (at >= length) return -TABLE_ENDS
        held = (held << 8) | load<u8>(data + <usize>at)
        at++
        heldBits += 8
      }
      heldBits -= 8
      run = <i32>((held >> heldBits) & 255) + SHORTEST_LONG_RUN
    }
    if (symbol + run > last + 1) return -TABLE_OVERFLOWS
    symbol += run
  }
  return at
}

/** Canonical codes: within a length ascending with the symbol, and a longer code is always below a shorter one. */
function makeCodes(
  lengths: usize,
  first: i32,
  last: i32,
  sorted: usize,
  table: usize,
  codes: usize,
  said: usize,
): i32 {
  const counts = countsIn(codes)
  const starts = startsIn(codes)
  const filled = filledIn(codes)
  memory.fill(counts, 0, 4 * (LONGEST_CODE + 1))
  for (let s = used(lengths, first, last); s <= last; s = used(lengths, s + 1, last)) {
    const length = <i32>load<u8>(lengths + <usize>s)
    if (length > LONGEST_CODE) {
      store<f64>(said, <f64>length)
      return LONG_CODE
    }
    const at = counts + ((<usize>length) << 2)
    store<i32>(at, load<i32>(at) + 1)
  }
  let code: i64 = 0
  let start = 0
  for (let length = LONGEST_CODE; length > 0; length--) {
    const at = (<usize>length) << 2
    store<i32>(codes + at, <i32>code)
    store<i32>(starts + at, start)
    store<i32>(filled + at, start)
    const count = load<i32>(counts + at)
    start += count
    code += count
    if (code > (<i64>1) << length) return TOO_MANY_CODES
    code >>= 1
  }
  for (let s = used(lengths, first, last); s <= last; s = used(lengths, s + 1, last)) {
    const length = <usize>load<u8>(lengths + <usize>s)
    const at = filled + (length << 2)
    const i = load<i32>(at)
    store<i32>(sorted + ((<usize>i) << 2), s)
    store<i32>(at, i + 1)
  }
  memory.fill(table, 0, 4 << TABLE_BITS)
  for (let length = 1; length <= TABLE_BITS; length++) {
    const at = (<usize>length) << 2
    const span = 1 << (TABLE_BITS - length)
    const count = load<i32>(counts + at)
    const symbols = sorted + ((<usize>load<i32>(starts + at)) << 2)
    let to = table + ((<usize>(load<i32>(codes + at) * span)) << 2)
    for (let i = 0; i < count; i++) {
      const symbol = load<i32>(symbols + ((<usize>i) << 2))
      const entry = (symbol << 6) | length | (symbol === last ? 1 << 31 : 0)
      for (const end = to + ((<usize>span) << 2); to < end; to += 4) store<i32>(to, entry)
    }
  }
  return 0
}

/** The first symbol from `s` on that has a code; behind `last` where there is none. */
function used(lengths: usize, s: i32, last: i32): i32 {
  // most have none
  while (s + 7 <= last && load<u64>(lengths + <usize>s) === 0) s += 8
  while (s <= last && load<u8>(lengths + <usize>s) === 0) s++
  return s
}

// One list after the other: the first code of each length, how many there are, where their symbols begin in `sorted`, and
// how far these are filled in.
function countsIn(codes: usize): usize {
  return codes + 4 * (LONGEST_CODE + 1)
}
function startsIn(codes: usize): usize {
  return codes + 8 * (LONGEST_CODE + 1)
}
function filledIn(codes: usize): usize {
  return codes + 12 * (LONGEST_CODE + 1)
}

function decode(
  data: usize,
  bits: i64,
  sorted: usize,
  table: usize,
  codes: usize,
  repeat: i32,
  out: usize,
  count: i32,
): i32 {
  const end = data + <usize>((bits + 7) >> 3)
  const stop = out + ((<usize>count) << 1)
  const begin = out
  // how many bits have been used
  let p: i64 = 0
  while (out < stop) {
    // Four symbols at a time, as long as they have short codes and the last bytes are not near: at least 56 bits are at hand then.
    // What is looked up next waits for what was, so between them are as few steps as can be: a shift takes of an entry its length, its
    // lowest six bits, and bytes that come in are read before it is known how far they are to be moved.
    let at = data + <usize>(p >> 3)
    if (at + 15 <= end && out + 8 <= stop) {
      let next = bswap<u64>(load<u64>(at)) << (p & 7)
      // Of the eight bytes seven are counted: the rest comes once more, and is the same.
      let have = 56 - (p & 7)
      at += 7
      while (at + 8 <= end && out + 8 <= stop) {
        next |= bswap<u64>(load<u64>(at)) >> <u64>have
        at += <usize>((63 - have) >> 3)
        have |= 56
        const a = entryOf(table, next)
        if (a <= 0) break
        next <<= <u64>a
        store<u16>(out, <u16>(a >> 6))
        const b = entryOf(table, next)
        if (b <= 0) {
          out += 2
          have -= a & 63
          break
        }
        next <<= <u64>b
        store<u16>(out, <u16>(b >> 6), 2)
        const c = entryOf(table, next)
        if (c <= 0) {
          out += 4
          have -= (a + b) & 63
          break
        }
        next <<= <u64>c
        store<u16>(out, <u16>(c >> 6), 4)
        const d = entryOf(table, next)
        if (d <= 0) {
          out += 6
          have -= (a + b + c) & 63
          break
        }
        next <<= <u64>d
        store<u16>(out, <u16>(d >> 6), 6)
        out += 8
        have -= (a + b + c + d) & 63
      }
      p = ((<i64>(at - data)) << 3) - have
    }
    if (out >= stop) break
    const next = ahead(data + <usize>(p >> 3), end) << (p & 7)
    const entry = load<i32>(table + ((<usize>(next >> UNUSED)) << 2)) & 0x7fffffff
    let symbol = entry >> 6
    let length = entry & 63
    if (entry === 0) {
      const found = longCode(next, min(bits - p, <i64>LONGEST_CODE), codes)
      if (found < 0) return NO_CODE
      length = <i32>(found >> 32)
      symbol = load<i32>(sorted + ((<usize>(found & 0xffffffff)) << 2))
    }
    p += length
    if (p > bits) return ENDS_EARLY
    if (symbol !== repeat) {
      store<u16>(out, <u16>symbol)
      out += 2
      continue
    }
    p += 8
    if (p > bits) return ENDS_EARLY
    const times = (<usize>((next << (<u64>length)) >> 56)) << 1
    if (out === begin || out + times > stop) return REPEATS
    const value = load<u16>(out - 2)
    // a repeat of nothing makes no progress in `out`, but it does in `p`
    for (const to = out + times; out < to; out += 2) store<u16>(out, value)
  }
  return 0
}

/** What the table says of the next bits: 64 bits wide, as what it moves is. */
function entryOf(table: usize, next: u64): i64 {
  return <i64>load<i32>(table + ((<usize>(next >> UNUSED)) << 2))
}

/** Eight bytes, the first on top; zeros from the end on. */
function ahead(at: usize, end: usize): u64 {
  if (at + 8 <= end) return bswap<u64>(load<u64>(at))
  let next: u64 = 0
  for (let shift: u64 = 56; at < end; at++, shift -= 8) next |= (<u64>load<u8>(at)) << shift
  return next
}

/** @returns length << 32 | place in `sorted`, or less than 0; of codes that are longer than the table's */
function longCode(next: u64, most: i64, codes: usize): i64 {
  for (let length = TABLE_BITS + 1; <i64>length <= most; length++) {
    const at = (<usize>length) << 2
    const i = <i64>(next >> <u64>(64 - length)) - <i64>load<i32>(codes + at)
    if (i >= 0 && i < <i64>load<i32>(countsIn(codes) + at))
      return ((<i64>length) << 32) | (<i64>load<i32>(startsIn(codes) + at) + i)
  }
  return -1
}
