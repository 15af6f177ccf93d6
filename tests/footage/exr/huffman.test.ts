import { describe, expect, test } from 'vitest'
import { decodeHuffman } from '../../../src/footage/exr/huffman.js'
import { randomFrom } from '../../random.js'

/**
 * A packed stream by the plainest encoder: code lengths 1, 2, 3 … for symbols 0, 1, 2 …, the last two alike, so that the
 * last symbol, which repeats, has the longest code. Planted: the codes follow from the lengths alone.
 */
function encode(symbols: readonly number[], longest: number): Uint8Array {
  const lengths = [...Array.from({ length: longest }, (_, i) => i + 1), longest]
  const repeat = longest
  // the longest codes have the lowest numbers, a shorter one goes on from half the next
  const codes = lengths.map(() => 0)
  let code = 0
  for (let length = longest; length > 0; length--) {
    lengths.forEach((l, symbol) => {
      if (l === length) codes[symbol] = code++
    })
    code >>= 1
  }
  const bits: string[] = []
  const put = (value: number, width: number): void => void bits.push(value.toString(2).padStart(width, '0'))
  for (let i = 0; i < symbols.length; ) {
    let run = 1
    while (symbols[i + run] === symbols[i] && run < 256) run++
    put(codes[symbols[i]!]!, lengths[symbols[i]!]!)
    if (run > 3) {
      put(codes[repeat]!, lengths[repeat]!)
      put(run - 1, 8)
      i += run
    } else i++
  }
  const bytesOf = (text: string): number[] => {
    const padded = text.padEnd(Math.ceil(text.length / 8) * 8, '0')
    return Array.from({ length: padded.length / 8 }, (_, i) =>
      Number.parseInt(padded.slice(8 * i, 8 * i + 8), 2),
    )
  }
  const table = bytesOf(lengths.map((l) => l.toString(2).padStart(6, '0')).join(''))
  const coded = bits.join('')
  const lead = Buffer.alloc(20)
  lead.writeUInt32LE(0, 0)
  lead.writeUInt32LE(repeat, 4)
  lead.writeUInt32LE(table.length, 8)
  lead.writeUInt32LE(coded.length, 12)
  return Uint8Array.from([...lead, ...table, ...bytesOf(coded)])
}

/** Symbols below `longest`, every one of them, with runs. */
function someSymbols(longest: number): number[] {
  const random = randomFrom(`symbols ${longest}`)
  const out: number[] = []
  while (out.length < 3000) {
    const symbol = Math.floor(random() * longest)
    const run = random() < 0.1 ? Math.floor(random() * 600) : 1
    for (let i = 0; i < run; i++) out.push(symbol)
  }
  return out
}

describe('the Huffman code of PIZ and DWA', () => {
  // 14 bits are looked up in one step, longer codes bit by bit
  test.each([1, 2, 7, 13, 14, 15, 16, 23, 30])('codes of up to %i bits, with runs, come back', (longest) => {
    const symbols = someSymbols(longest)
    expect([...decodeHuffman(encode(symbols, longest), symbols.length)]).toEqual(symbols)
  })

  test('one symbol more or fewer than there are is refused', () => {
    const symbols = [0, 1, 2, 1, 0, 2, 1]
    const data = encode(symbols, 3)
    expect(() => decodeHuffman(data, symbols.length + 8)).toThrow('ends early')
    const run = encode(
      Array.from({ length: 50 }, () => 1),
      3,
    )
    expect(() => decodeHuffman(run, 49)).toThrow('repeats beyond its chunk')
  })

  test.each<[string, (data: Uint8Array) => Uint8Array, string]>([
    ['no lead', (d) => d.subarray(0, 10), 'has no lead'],
    ['no table', (d) => d.subarray(0, 21), 'ends inside its table'],
    ['no codes', (d) => d.subarray(0, 26), 'ends before its'],
    ['symbols beyond 16 bits', (d) => d.fill(255, 4, 8), 'covers symbols'],
    [
      'three codes of one bit',
      (d) => d.fill(0b00000100, 20, 21).fill(0b00010000, 21, 22).fill(0b01000001, 22, 23),
      'more codes than fit',
    ],
    ['more bits than bytes', (d) => d.fill(255, 12, 14), 'ends before its'],
  ])('%s is refused', (_, change, words) => {
    expect(() => decodeHuffman(change(encode(someSymbols(7), 7)), 3000)).toThrow(words)
  })
})
