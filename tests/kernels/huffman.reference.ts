// The Huffman code of PIZ and DWA, symbol by symbol, as it was decoded before there was a kernel. Source: OpenEXR 3.1, ImfHuf.

const SYMBOLS = 65537
// code lengths as stored, six bits each: 59 to 62 stand for 2 to 5 symbols without a code, 63 for 6 and more
const SHORT_RUN = 59
const LONG_RUN = 63
const SHORTEST_LONG_RUN = 6
// OpenEXR allows 58, but more than 48 takes a chunk of 2^33 symbols, and 48 bits are exact in a double
const LONGEST_CODE = 48
// codes up to this many bits are found in one step
const TABLE_BITS = 13
const LEAD_BYTES = 20

/**
 * Decodes `count` symbols.
 *
 * @param data the packed code lengths and the codes, with OpenEXR's 20-byte lead
 * @throws Error where the codes end early, make more symbols than wanted, or can't be codes
 */
export function straightHuffman(data: Uint8Array, count: number): Uint16Array {
  const out = new Uint16Array(count)
  if (data.length < LEAD_BYTES) throw broken('has no lead')
  const lead = new DataView(data.buffer, data.byteOffset, data.byteLength)
  const first = lead.getUint32(0, true)
  const last = lead.getUint32(4, true)
  const bits = lead.getUint32(12, true)
  if (first >= SYMBOLS || last >= SYMBOLS || first > last) throw broken(`covers symbols ${first} to ${last}`)
  const lengths = new Uint8Array(SYMBOLS)
  const codesAt = unpackLengths(data, first, last, lengths)
  if (bits > 8 * (data.length - codesAt)) throw broken(`ends before its ${bits} bits`)
  decodeSymbols(data.subarray(codesAt), bits, new Codes(lengths, first, last), last, out)
  return out
}

function broken(what: string): Error {
  return new Error(what)
}

/** @returns where the codes begin */
function unpackLengths(data: Uint8Array, first: number, last: number, lengths: Uint8Array): number {
  let at = LEAD_BYTES
  let held = 0
  let heldBits = 0
  const take = (n: number): number => {
    while (heldBits < n) {
      if (at >= data.length) throw broken('ends inside its table')
      held = ((held << 8) | data[at++]!) & 0xffff
      heldBits += 8
    }
    heldBits -= n
    return (held >> heldBits) & ((1 << n) - 1)
  }
  for (let symbol = first; symbol <= last; ) {
    const length = take(6)
    if (length < SHORT_RUN) {
      lengths[symbol++] = length
      continue
    }
    const run = length === LONG_RUN ? take(8) + SHORTEST_LONG_RUN : length - SHORT_RUN + 2
    if (symbol + run > last + 1) throw broken('has a table with too many symbols')
    symbol += run
  }
  return at
}

/** Canonical codes: within a length ascending with the symbol, and a longer code is always below a shorter one. */
class Codes {
  /** By the next 13 bits: symbol * 64 + length, 0 where the code is longer. */
  readonly table = new Int32Array(1 << TABLE_BITS)
  /** Per length: the first code, how many there are, and where their symbols begin in `sorted`. */
  readonly firstCode = new Float64Array(LONGEST_CODE + 1)
  readonly counts = new Int32Array(LONGEST_CODE + 1)
  readonly starts = new Int32Array(LONGEST_CODE + 1)
  readonly sorted: Int32Array

  constructor(lengths: Uint8Array, first: number, last: number) {
    for (let s = first; s <= last; s++) {
      if (lengths[s]! > LONGEST_CODE) throw broken(`has a code of ${lengths[s]} bits`)
      this.counts[lengths[s]!]!++
    }
    this.counts[0] = 0
    let code = 0
    let start = 0
    for (let length = LONGEST_CODE; length > 0; length--) {
      this.firstCode[length] = code
      this.starts[length] = start
      start += this.counts[length]!
      code += this.counts[length]!
      if (code > 2 ** length) throw broken('has more codes than fit')
      code = Math.floor(code / 2)
    }
    this.sorted = new Int32Array(start)
    const filled = this.starts.slice()
    for (let s = first; s <= last; s++) if (lengths[s]! > 0) this.sorted[filled[lengths[s]!]!++] = s
    this.fillTable()
  }

  private fillTable(): void {
    for (let length = 1; length <= TABLE_BITS; length++) {
      const span = 1 << (TABLE_BITS - length)
      for (let i = 0; i < this.counts[length]!; i++) {
        const from = (this.firstCode[length]! + i) * span
        this.table.fill(this.sorted[this.starts[length]! + i]! * 64 + length, from, from + span)
      }
    }
  }
}

function decodeSymbols(data: Uint8Array, bits: number, codes: Codes, repeat: number, out: Uint16Array): void {
  const { table } = codes
  const end = Math.ceil(bits / 8)
  let held = 0
  let heldBits = 0
  let at = 0
  let left = bits
  let to = 0
  while (to < out.length) {
    while (heldBits < TABLE_BITS && at < end) {
      held = (held << 8) | data[at++]!
      heldBits += 8
    }
    const next = heldBits >= TABLE_BITS ? held >>> (heldBits - TABLE_BITS) : held << (TABLE_BITS - heldBits)
    const entry = table[next & ((1 << TABLE_BITS) - 1)]!
    let symbol: number
    if (entry !== 0) {
      symbol = entry >> 6
      heldBits -= entry & 63
      left -= entry & 63
    } else {
      // rare: walk a longer code bit by bit
      const at0 = bits - left
      const [found, length] = longCode(data, at0, left, codes)
      symbol = found
      left -= length
      const skip = at0 + length
      at = skip >> 3
      heldBits = 0
      held = 0
      if (skip & 7) {
        held = data[at++]! & (255 >> (skip & 7))
        heldBits = 8 - (skip & 7)
      }
    }
    if (left < 0 || heldBits < 0) throw broken('ends early')
    if (symbol !== repeat) {
      out[to++] = symbol
      continue
    }
    if (heldBits < 8 && at < end) {
      held = (held << 8) | data[at++]!
      heldBits += 8
    }
    heldBits -= 8
    left -= 8
    if (left < 0 || heldBits < 0) throw broken('ends early')
    const times = (held >>> heldBits) & 255
    if (to === 0 || to + times > out.length) throw broken('repeats beyond its chunk')
    out.fill(out[to - 1]!, to, to + times)
    to += times
    // a repeat of nothing makes no progress in `to`, but it does in `left`
  }
}

function longCode(
  data: Uint8Array,
  from: number,
  left: number,
  codes: Codes,
): [symbol: number, length: number] {
  let code = 0
  for (let length = 1; length <= Math.min(left, LONGEST_CODE); length++) {
    const bit = from + length - 1
    code = code * 2 + ((data[bit >> 3]! >> (7 - (bit & 7))) & 1)
    const i = code - codes.firstCode[length]!
    if (length > TABLE_BITS && i >= 0 && i < codes.counts[length]!) {
      return [codes.sorted[codes.starts[length]! + i]!, length]
    }
  }
  throw broken('has bits that are no code')
}
