// A zlib stream into bytes (RFC 1950, RFC 1951). AssemblyScript. What is broken is refused at the first bit that can't be, so that
// decoding always ends, within its memory.

/** Codes of literals and lengths, and of distances, up to so many bits are found in one step; longer ones in two. */
const SHORT_LENGTHS: i32 = 10
const SHORT_DISTANCES: i32 = 8
const LONGEST_CODE: i32 = 15
const MAX_SYMBOLS: i32 = 288 + 32
/** Every longer code shares its first bits with another, and a table of their second step has 2^(15 - first step) places. */
const LENGTH_PLACES: usize = (1 << SHORT_LENGTHS) + (288 / 2) * (1 << (LONGEST_CODE - SHORT_LENGTHS))
const DISTANCE_PLACES: usize = (1 << SHORT_DISTANCES) + (32 / 2) * (1 << (LONGEST_CODE - SHORT_DISTANCES))

// Where things lie in the room that it works in.
const AT: usize = 0
const HELD_BITS: usize = 4
const HELD: usize = 8
const LENGTHS: usize = 16
const SORTED: usize = LENGTHS + <usize>MAX_SYMBOLS
const COUNTS: usize = SORTED + 2 * <usize>MAX_SYMBOLS
const LENGTH_TABLE: usize = COUNTS + 128
const DISTANCE_TABLE: usize = LENGTH_TABLE + 4 * LENGTH_PLACES
const ROOM_BYTES: usize = DISTANCE_TABLE + 4 * DISTANCE_PLACES

// An entry of a table: in its lowest five bits those of the code, or of this step of it; from bit 8 the literal, the least length or
// distance, or where the second step begins; from bit 24 how many more bits tell the length, the distance, or the second step's place.
const LITERAL: u32 = 1 << 31
/** Neither a literal nor a length or distance: with none of the next two, no code. */
const OTHER: u32 = 1 << 30
const LONGER: u32 = 1 << 29
const ENDS: u32 = 1 << 28

/** Bytes that one round of the loop without checks may read and write at most. */
const READ_AHEAD: usize = 16
const WRITE_AHEAD: usize = 2 + 258 + 16

const BROKEN: i32 = -1

/** Bytes of the room that `inflate` works in. */
export function inflateRoom(): i32 {
  return <i32>ROOM_BYTES
}

/**
 * Inflates what must not be more than `size` bytes; what follows the stream is not looked at.
 *
 * @param data any bytes
 * @param out  receives them
 * @param room `inflateRoom()` bytes
 * @returns how many they are; less than 0 where the stream is broken, does not match its checksum, or makes more
 */
export function inflate(data: usize, length: i32, out: usize, size: i32, room: usize): i32 {
  if (length < 6) return BROKEN
  const lead = ((<u32>load<u8>(data)) << 8) | <u32>load<u8>(data, 1)
  // Deflate with a window of 32 kB at most, no dictionary, and a lead that is a multiple of 31.
  if ((lead & 0x0f00) !== 0x0800 || lead >> 12 > 7 || (lead & 0x20) !== 0 || lead % 31 !== 0) return BROKEN
  const end = data + <usize>length
  const outEnd = out + <usize>size
  store<u32>(room, <u32>(data + 2), AT)
  store<u32>(room, 0, HELD_BITS)
  store<u64>(room, 0, HELD)
  let to = out
  for (let last = false; !last; ) {
    fill(room, end)
    if (load<u32>(room, HELD_BITS) < 3) return BROKEN
    last = take(room, 1) === 1
    const kind = take(room, 2)
    if (kind === 0) {
      to = stored(room, end, to, outEnd)
    } else {
      if (!(kind === 1 ? fixedCodes(room) : kind === 2 && ownCodes(room, end))) return BROKEN
      to = decoded(room, end, out, to, outEnd)
    }
    if (to === 0) return BROKEN
  }
  const at = <usize>load<u32>(room, AT) - <usize>(load<u32>(room, HELD_BITS) >> 3)
  if (at + 4 > end || bswap(load<u32>(at)) !== checksum(out, to)) return BROKEN
  return <i32>(to - out)
}

/** Holds as many more bits as there are bytes for. */
function fill(room: usize, end: usize): void {
  let at = <usize>load<u32>(room, AT)
  let bits = load<u32>(room, HELD_BITS)
  let held = load<u64>(room, HELD)
  for (; bits <= 56 && at < end; at++, bits += 8) held |= (<u64>load<u8>(at)) << bits
  store<u32>(room, <u32>at, AT)
  store<u32>(room, bits, HELD_BITS)
  store<u64>(room, held, HELD)
}

/** The next bits, which must be held. */
function take(room: usize, bits: u32): u32 {
  const held = load<u64>(room, HELD)
  store<u64>(room, held >> bits, HELD)
  store<u32>(room, load<u32>(room, HELD_BITS) - bits, HELD_BITS)
  return <u32>held & ((1 << bits) - 1)
}

/** Bytes as they are. @returns where they end, 0 where they are not all there or too many */
function stored(room: usize, end: usize, to: usize, outEnd: usize): usize {
  const at = <usize>load<u32>(room, AT) - <usize>(load<u32>(room, HELD_BITS) >> 3)
  if (at + 4 > end) return 0
  const length = <u32>load<u16>(at)
  if ((length ^ <u32>load<u16>(at, 2)) !== 0xffff) return 0
  if (at + 4 + <usize>length > end || to + <usize>length > outEnd) return 0
  memory.copy(to, at + 4, length)
  store<u32>(room, <u32>(at + 4) + length, AT)
  store<u32>(room, 0, HELD_BITS)
  store<u64>(room, 0, HELD)
  return to + <usize>length
}

function fixedCodes(room: usize): boolean {
  const lengths = room + LENGTHS
  memory.fill(lengths, 8, 144)
  memory.fill(lengths + 144, 9, 112)
  memory.fill(lengths + 256, 7, 24)
  memory.fill(lengths + 280, 8, 8)
  if (!layTable(room, lengths, 288, SHORT_LENGTHS, room + LENGTH_TABLE, LENGTH_SYMBOLS)) return false
  memory.fill(lengths, 5, 32)
  return layTable(room, lengths, 32, SHORT_DISTANCES, room + DISTANCE_TABLE, DISTANCE_SYMBOLS)
}

/** In which order the lengths of the codes for lengths of codes come. */
const ORDER = memory.data<u8>([16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15])

/** Codes that come with the block. @returns false where they are none */
function ownCodes(room: usize, end: usize): boolean {
  fill(room, end)
  if (load<u32>(room, HELD_BITS) < 14) return false
  const lengths = <i32>take(room, 5) + 257
  const distances = <i32>take(room, 5) + 1
  const codes = <i32>take(room, 4) + 4
  if (lengths > 286 || distances > 30) return false
  const at = room + LENGTHS
  memory.fill(at, 0, MAX_SYMBOLS)
  for (let i = 0; i < codes; i++) {
    fill(room, end)
    if (load<u32>(room, HELD_BITS) < 3) return false
    store<u8>(at + <usize>load<u8>(ORDER + <usize>i), take(room, 3))
  }
  // The codes for lengths of codes lie where those of distances will.
  const table = room + DISTANCE_TABLE
  if (!layTable(room, at, 19, SHORT_DISTANCES, table, PLAIN_SYMBOLS)) return false
  memory.fill(at, 0, MAX_SYMBOLS)
  const total = lengths + distances
  for (let i = 0; i < total; ) {
    fill(room, end)
    const entry = load<u32>(table + ((<usize>(load<u32>(room, HELD) & ((1 << SHORT_DISTANCES) - 1))) << 2))
    const symbol = (entry >> 8) & 0xff
    const extra: u32 = symbol < 16 ? 0 : symbol === 16 ? 2 : symbol === 17 ? 3 : 7
    if ((entry & OTHER) !== 0 || load<u32>(room, HELD_BITS) < (entry & 31) + extra) return false
    take(room, entry & 31)
    if (symbol < 16) {
      store<u8>(at + <usize>i, symbol)
      i++
      continue
    }
    const run = <i32>take(room, extra) + (symbol === 18 ? 11 : 3)
    if (i + run > total || (symbol === 16 && i === 0)) return false
    const value = symbol === 16 ? load<u8>(at + <usize>i - 1) : 0
    memory.fill(at + <usize>i, value, run)
    i += run
  }
  // Without it a block never ends.
  if (load<u8>(at + 256) === 0) return false
  return (
    layTable(room, at, lengths, SHORT_LENGTHS, room + LENGTH_TABLE, LENGTH_SYMBOLS) &&
    layTable(room, at + <usize>lengths, distances, SHORT_DISTANCES, table, DISTANCE_SYMBOLS)
  )
}

/** What a table's symbols are. */
const LENGTH_SYMBOLS: i32 = 0
const DISTANCE_SYMBOLS: i32 = 1
const PLAIN_SYMBOLS: i32 = 2

/** What a symbol stands for, as an entry without its code's bits. */
function entryOf(symbol: u32, kind: i32): u32 {
  if (kind === PLAIN_SYMBOLS) return symbol << 8
  if (kind === DISTANCE_SYMBOLS) {
    if (symbol >= 30) return OTHER
    if (symbol < 4) return (symbol + 1) << 8
    const extra = (symbol >> 1) - 1
    return (extra << 24) | ((1 + ((2 + (symbol & 1)) << extra)) << 8)
  }
  if (symbol < 256) return LITERAL | (symbol << 8)
  if (symbol === 256) return OTHER | ENDS
  if (symbol >= 286) return OTHER
  const k = symbol - 257
  if (k < 8) return (3 + k) << 8
  if (k === 28) return 258 << 8
  const extra = (k >> 2) - 1
  return (extra << 24) | ((3 + ((4 + (k & 3)) << extra)) << 8)
}

/**
 * Lays out canonical codes.
 *
 * @param lengths bits of each symbol's code, a byte each; 0: none
 * @param short   bits of the first step
 * @returns false where they are no code: too many, or too few, which one alone of a single bit may be
 */
function layTable(room: usize, lengths: usize, symbols: i32, short: i32, table: usize, kind: i32): boolean {
  const counts = room + COUNTS
  memory.fill(counts, 0, 128)
  for (let s = 0; s < symbols; s++) {
    const at = counts + ((<usize>load<u8>(lengths + <usize>s)) << 2)
    store<i32>(at, load<i32>(at) + 1)
  }
  let longest = LONGEST_CODE
  while (longest > 0 && load<i32>(counts + ((<usize>longest) << 2)) === 0) longest--
  let left = 1
  // From here on a count is where the symbols of that length begin, in order.
  let first = 0
  for (let bits = 1; bits <= LONGEST_CODE; bits++) {
    const at = counts + ((<usize>bits) << 2)
    const count = load<i32>(at)
    left = 2 * left - count
    if (left < 0) return false
    store<i32>(at, first)
    first += count
  }
  if (left > 0 && longest !== 0 && (kind === PLAIN_SYMBOLS || longest !== 1)) return false
  const sorted = room + SORTED
  for (let s = 0; s < symbols; s++) {
    const bits = <usize>load<u8>(lengths + <usize>s)
    if (bits === 0) continue
    const at = counts + (bits << 2)
    const place = load<i32>(at)
    store<i32>(at, place + 1)
    store<u16>(sorted + ((<usize>place) << 1), s)
  }
  const places = 1 << short
  for (let i = 0; i < places; i++) store<u32>(table + ((<usize>i) << 2), OTHER)
  const more = longest - short
  let next = places
  // Codes come with their first bit lowest, so they are counted up from the other end.
  let code = 0
  for (let k = 0; k < first; k++) {
    const symbol = <u32>load<u16>(sorted + ((<usize>k) << 1))
    const bits = <i32>load<u8>(lengths + <usize>symbol)
    const entry = entryOf(symbol, kind)
    if (bits <= short) {
      for (let i = code; i < places; i += 1 << bits) store<u32>(table + ((<usize>i) << 2), entry | <u32>bits)
    } else {
      const at = table + ((<usize>(code & (places - 1))) << 2)
      if ((load<u32>(at) & LONGER) === 0) {
        store<u32>(at, OTHER | LONGER | ((<u32>more) << 24) | ((<u32>next) << 8) | <u32>short)
        for (let i = 0; i < 1 << more; i++) store<u32>(table + ((<usize>(next + i)) << 2), OTHER)
        next += 1 << more
      }
      const step = <i32>((load<u32>(at) >> 8) & 0xffff)
      for (let i = code >> short; i < 1 << more; i += 1 << (bits - short))
        store<u32>(table + ((<usize>(step + i)) << 2), entry | <u32>(bits - short))
    }
    let bit = 1 << (bits - 1)
    while ((code & bit) !== 0) bit >>= 1
    code = bit === 0 ? 0 : (code & (bit - 1)) + bit
  }
  return true
}

/**
 * A block in its codes: most of it in a loop that looks once a round whether there are bytes and room enough.
 *
 * @param start where distances may reach back to
 * @returns where its bytes end, 0 where it is broken or makes too many
 */
function decoded(room: usize, end: usize, start: usize, to: usize, outEnd: usize): usize {
  const lengths = room + LENGTH_TABLE
  const distances = room + DISTANCE_TABLE
  let at = <usize>load<u32>(room, AT)
  let bits = load<u32>(room, HELD_BITS)
  let held = load<u64>(room, HELD)
  let out = to
  while (at + READ_AHEAD <= end && out + WRITE_AHEAD <= outEnd) {
    held |= load<u64>(at) << bits
    at += (63 - bits) >> 3
    bits |= 56
    let entry = load<u32>(lengths + ((<usize>held & ((1 << SHORT_LENGTHS) - 1)) << 2))
    // Three literals have 30 bits at most, so that a fourth place is found without more.
    if ((entry & LITERAL) !== 0) {
      held >>= entry & 31
      bits -= entry & 31
      store<u8>(out++, entry >> 8)
      entry = load<u32>(lengths + ((<usize>held & ((1 << SHORT_LENGTHS) - 1)) << 2))
      if ((entry & LITERAL) !== 0) {
        held >>= entry & 31
        bits -= entry & 31
        store<u8>(out++, entry >> 8)
        entry = load<u32>(lengths + ((<usize>held & ((1 << SHORT_LENGTHS) - 1)) << 2))
        if ((entry & LITERAL) !== 0) {
          held >>= entry & 31
          bits -= entry & 31
          store<u8>(out++, entry >> 8)
          continue
        }
      }
      held |= load<u64>(at) << bits
      at += (63 - bits) >> 3
      bits |= 56
    }
    if ((entry & LONGER) !== 0) {
      held >>= SHORT_LENGTHS
      bits -= SHORT_LENGTHS
      entry = load<u32>(lengths + ((<usize>second(entry, held)) << 2))
    }
    held >>= entry & 31
    bits -= entry & 31
    if ((entry & LITERAL) !== 0) {
      store<u8>(out++, entry >> 8)
      continue
    }
    if ((entry & OTHER) !== 0) {
      keep(room, at, bits, held)
      return (entry & ENDS) !== 0 ? out : 0
    }
    let extra = (entry >> 24) & 15
    const length = <usize>(((entry >> 8) & 0xffff) + (<u32>held & ((1 << extra) - 1)))
    held >>= extra
    bits -= extra
    entry = load<u32>(distances + ((<usize>held & ((1 << SHORT_DISTANCES) - 1)) << 2))
    if ((entry & LONGER) !== 0) {
      held >>= SHORT_DISTANCES
      bits -= SHORT_DISTANCES
      entry = load<u32>(distances + ((<usize>second(entry, held)) << 2))
    }
    if ((entry & OTHER) !== 0) return 0
    held >>= entry & 31
    bits -= entry & 31
    extra = (entry >> 24) & 15
    const back = <usize>(((entry >> 8) & 0xffff) + (<u32>held & ((1 << extra) - 1)))
    held >>= extra
    bits -= extra
    if (back > out - start) return 0
    repeat(out, back, length)
    out += length
  }
  keep(room, at, bits, held)
  return decodedToEnd(room, end, start, out, outEnd)
}

/** The same with a look before each step. */
function decodedToEnd(room: usize, end: usize, start: usize, to: usize, outEnd: usize): usize {
  const lengths = room + LENGTH_TABLE
  const distances = room + DISTANCE_TABLE
  let out = to
  let entry: u32 = 0
  while (true) {
    fill(room, end)
    entry = coded(room, lengths, SHORT_LENGTHS)
    if (entry === 0) return 0
    if ((entry & LITERAL) !== 0) {
      if (out >= outEnd) return 0
      store<u8>(out++, entry >> 8)
      continue
    }
    if ((entry & ENDS) !== 0) break
    if ((entry & OTHER) !== 0) return 0
    const length = <usize>told(room, entry)
    const distance = coded(room, distances, SHORT_DISTANCES)
    if (distance === 0 || (distance & OTHER) !== 0) return 0
    const back = <usize>told(room, distance)
    if (length === 0 || back === 0 || back > out - start || out + length > outEnd) return 0
    for (let i: usize = 0; i < length; i++) store<u8>(out + i, load<u8>(out + i - back))
    out += length
  }
  return out
}

/** The entry of the next code, which is taken; 0 where its bits are not all there. */
function coded(room: usize, table: usize, short: i32): u32 {
  let entry = load<u32>(table + ((<usize>load<u64>(room, HELD) & ((1 << short) - 1)) << 2))
  if ((entry & LONGER) !== 0) {
    if (load<u32>(room, HELD_BITS) < <u32>short) return 0
    take(room, short)
    entry = load<u32>(table + ((<usize>second(entry, load<u64>(room, HELD))) << 2))
  }
  if (load<u32>(room, HELD_BITS) < (entry & 31)) return 0
  take(room, entry & 31)
  return entry
}

/** A length or a distance; 0 where its bits are not all there. */
function told(room: usize, entry: u32): u32 {
  const extra = (entry >> 24) & 15
  return load<u32>(room, HELD_BITS) < extra ? 0 : ((entry >> 8) & 0xffff) + take(room, extra)
}

/** Where in the table the second step's entry lies. */
function second(entry: u32, held: u64): u32 {
  return ((entry >> 8) & 0xffff) + (<u32>held & ((1 << ((entry >> 24) & 15)) - 1))
}

function keep(room: usize, at: usize, bits: u32, held: u64): void {
  store<u32>(room, <u32>at, AT)
  store<u32>(room, bits, HELD_BITS)
  store<u64>(room, held, HELD)
}

/** Writes again what lies before it, in whole vectors where they don't overlap what they read: up to 15 bytes too many. */
function repeat(out: usize, back: usize, length: usize): void {
  const stop = out + length
  if (back >= 16) {
    for (; out < stop; out += 16) v128.store(out, v128.load(out - back))
  } else if (back === 1) {
    const same = i8x16.splat(load<i8>(out - 1))
    for (; out < stop; out += 16) v128.store(out, same)
  } else if (back >= 8) {
    for (; out < stop; out += 8) store<u64>(out, load<u64>(out - back))
  } else {
    for (; out < stop; out++) store<u8>(out, load<u8>(out - back))
  }
}

const ADLER: u32 = 65521
/** Vectors after which sums are brought below it: they stay below 2^32. */
const ADLER_VECTORS: i32 = 256

/** Adler-32 (RFC 1950), sixteen bytes at a time. */
function checksum(from: usize, to: usize): u32 {
  let a: u32 = 1
  let b: u32 = 0
  const low = i16x8(16, 15, 14, 13, 12, 11, 10, 9)
  const high = i16x8(8, 7, 6, 5, 4, 3, 2, 1)
  let at = from
  while (at + 16 <= to) {
    const end = min(at + 16 * <usize>ADLER_VECTORS, at + ((to - at) & ~15))
    const vectors = <u32>((end - at) >> 4)
    let sums = i32x4.splat(0)
    let before = i32x4.splat(0)
    let weighted = i32x4.splat(0)
    for (; at < end; at += 16) {
      const v = v128.load(at)
      before = i32x4.add(before, sums)
      sums = i32x4.add(sums, i32x4.extadd_pairwise_i16x8_u(i16x8.extadd_pairwise_i8x16_u(v)))
      weighted = i32x4.add(weighted, i32x4.dot_i16x8_s(i16x8.extend_low_i8x16_u(v), low))
      weighted = i32x4.add(weighted, i32x4.dot_i16x8_s(i16x8.extend_high_i8x16_u(v), high))
    }
    b = (b + 16 * vectors * a + 16 * lanes(before) + lanes(weighted)) % ADLER
    a = (a + lanes(sums)) % ADLER
  }
  for (; at < to; at++) {
    a += load<u8>(at)
    b += a
  }
  return ((b % ADLER) << 16) | (a % ADLER)
}

function lanes(v: v128): u32 {
  return (
    i32x4.extract_lane(v, 0) + i32x4.extract_lane(v, 1) + i32x4.extract_lane(v, 2) + i32x4.extract_lane(v, 3)
  )
}
