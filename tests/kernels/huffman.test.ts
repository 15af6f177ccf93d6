// The Huffman kernel against its straight twin, on codes that a writer makes and on any bytes: the same symbols or the same
// refusal, and nothing written beside them. What OpenEXR itself wrote is in tests/footage.
import { afterAll, describe, expect, test } from 'vitest'
import { huffman } from '../../src/kernels/huffman.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'
import { Guarded } from './guarded.js'
import { straightHuffman } from './huffman.reference.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

type Outcome = number[] | string

function byKernel(data: Uint8Array, count: number): Outcome {
  return workspace.within((scratch) => {
    const guarded = new Guarded(scratch)
    const input = guarded.bytes(data)
    const out = guarded.words(count)
    const fault = huffman(workspace, input, out)
    guarded.check()
    expect([...input]).toEqual([...data])
    return fault ?? [...out]
  })
}

function straight(data: Uint8Array, count: number): Outcome {
  try {
    return [...straightHuffman(data, count)]
  } catch (error) {
    return (error as Error).message
  }
}

/** A stream whose code lengths are `lengths` (0: no code), and whose codes are any bits. */
function stream(lengths: readonly number[], first: number, coded: Uint8Array, bits: number): Uint8Array {
  const text = lengths.map((length) => length.toString(2).padStart(6, '0')).join('')
  const table = Uint8Array.from({ length: Math.ceil(text.length / 8) }, (_, i) =>
    Number.parseInt(text.slice(8 * i, 8 * i + 8).padEnd(8, '0'), 2),
  )
  const lead = new Uint8Array(20)
  const view = new DataView(lead.buffer)
  view.setUint32(0, first, true)
  view.setUint32(4, first + lengths.length - 1, true)
  view.setUint32(12, bits, true)
  return Uint8Array.from([...lead, ...table, ...coded])
}

/** Lengths of a complete code: leaves of a tree that is split at random, none deeper than `deepest`. */
function completeLengths(random: () => number, leaves: number, deepest: number): number[] {
  const lengths = [1, 1]
  while (lengths.length < leaves) {
    const i = random() < 0.5 ? lengths.length - 1 : Math.floor(random() * lengths.length)
    if (lengths[i] >= deepest) break
    lengths[i]++
    lengths.push(lengths[i])
  }
  return lengths
}

describe('the Huffman kernel', () => {
  test.each([
    [2, 8],
    [40, 14],
    [60, 30],
    [300, 48],
  ])('any bits through a complete code of up to %i symbols, at most %i bits long', (leaves, deepest) => {
    const random = randomFrom(`huffman ${leaves}`)
    let decoded = 0
    for (let round = 0; round < 25; round++) {
      const coded = Uint8Array.from({ length: 40 + Math.floor(300 * random()) }, () => 256 * random())
      const lengths = completeLengths(random, leaves, deepest)
      const data = stream(lengths, Math.floor(60_000 * random()), coded, 8 * coded.length - (round % 8))
      for (const count of [0, 1, 30, 1000]) {
        const outcome = byKernel(data, count)
        expect(outcome).toEqual(straight(data, count))
        if (typeof outcome !== 'string') decoded++
      }
    }
    // both ends are met: enough bits and too few
    expect(decoded).toBeGreaterThan(25)
  })

  test('streams with flipped bits, cut short or of nothing but chance end the same way', () => {
    const random = randomFrom('hostile')
    const seen = new Set<string>()
    for (let round = 0; round < 900; round++) {
      const lengths = completeLengths(random, 2 + Math.floor(50 * random()), 20)
      const coded = Uint8Array.from({ length: 60 }, () => 256 * random())
      let data = stream(lengths, round % 3 === 0 ? 65530 - lengths.length : 0, coded, 480)
      for (let flips = Math.floor(5 * random()); flips > 0; flips--)
        data[Math.floor(data.length * random())] ^= 1 << Math.floor(8 * random())
      if (random() < 0.2) data = data.subarray(0, Math.floor(data.length * random()))
      if (random() < 0.2) data.fill(Math.floor(256 * random()), 20, 20 + Math.floor(40 * random()))
      const outcome = byKernel(data, 200)
      expect(outcome).toEqual(straight(data, 200))
      seen.add(typeof outcome === 'string' ? outcome.replace(/\d+/g, 'N') : 'symbols')
    }
    expect([...seen].sort()).toEqual([
      'covers symbols N to N',
      'ends before its N bits',
      'ends early',
      'ends inside its table',
      'has a code of N bits',
      'has a table with too many symbols',
      'has bits that are no code',
      'has more codes than fit',
      'has no lead',
      'repeats beyond its chunk',
      'symbols',
    ])
  })
})
