// Sorting samples by their digits instead of comparing them: thousands of stops, frame after frame. H. H. Seward, Information
// Sorting in the Application of Electronic Digital Computers to Business Operations (1954), least digit first; floats as
// integers of the same order: M. Herf, Radix Tricks (2001). AssemblyScript.

const DIGIT_BITS: u32 = 11
const DIGITS: i32 = 1 << DIGIT_BITS
const LOW: u32 = DIGITS - 1
const PLACES: i32 = 3

/** Bytes that `sortSamples` counts in. */
export const COUNTS_BYTES: i32 = 4 * PLACES * DIGITS

/**
 * In place, ascending, -0 before 0.
 *
 * @param values float32, no NaN
 * @param spare  room for as many
 * @param counts room for COUNTS_BYTES
 */
export function sortSamples(values: usize, n: i32, spare: usize, counts: usize): void {
  const end = values + ((<usize>n) << 2)
  memory.fill(counts, 0, COUNTS_BYTES)
  for (let at = values; at < end; at += 4) {
    const bits = load<u32>(at)
    const key = bits ^ (<u32>(<i32>bits >> 31) | 0x80000000)
    store<u32>(at, key)
    countDigit(counts, key & LOW)
    countDigit(counts, DIGITS + ((key >> DIGIT_BITS) & LOW))
    countDigit(counts, 2 * DIGITS + (key >> (2 * DIGIT_BITS)))
  }
  // How many keys lie before the first of each digit, instead of how many have it.
  for (let place = 0; place < PLACES; place++) {
    let before: u32 = 0
    const first = counts + ((<usize>(place * DIGITS)) << 2)
    for (let at = first; at < first + (DIGITS << 2); at += 4) {
      const count = load<u32>(at)
      store<u32>(at, before)
      before += count
    }
  }
  deal(values, spare, n, counts, 0)
  deal(spare, values, n, counts + (DIGITS << 2), DIGIT_BITS)
  deal(values, spare, n, counts + (DIGITS << 3), 2 * DIGIT_BITS)
  for (let i: usize = 0; i < (<usize>n) << 2; i += 4) {
    const key = load<u32>(spare + i)
    store<u32>(values + i, key & 0x80000000 ? key ^ 0x80000000 : ~key)
  }
}

function countDigit(counts: usize, digit: u32): void {
  const at = counts + ((<usize>digit) << 2)
  store<u32>(at, load<u32>(at) + 1)
}

/** Lays keys in the order of one digit, those that share it as they lay before. */
function deal(from: usize, to: usize, n: i32, starts: usize, shift: u32): void {
  const end = from + ((<usize>n) << 2)
  for (let at = from; at < end; at += 4) {
    const key = load<u32>(at)
    const start = starts + ((<usize>((key >> shift) & LOW)) << 2)
    const place = load<u32>(start)
    store<u32>(start, place + 1)
    store<u32>(to + ((<usize>place) << 2), key)
  }
}
