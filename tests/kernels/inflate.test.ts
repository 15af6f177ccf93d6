// Zlib streams against Node's own zlib: what it packs comes back, and what it refuses is refused.
import { deflateRawSync, deflateSync, constants as how, inflateRawSync } from 'node:zlib'
import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { inflate } from '../../src/kernels/inflate.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'
import { Guarded } from './guarded.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

/** What is made with room for `size` bytes, of which nothing round them is touched; null where it is refused. */
function inflated(data: Uint8Array, size: number): Uint8Array | null {
  return workspace.within((scratch) => {
    const guarded = new Guarded(scratch)
    const out = guarded.bytes(new Uint8Array(size))
    const made = inflate(workspace, guarded.bytes(data), out)
    guarded.check()
    return made === null ? null : out.slice(0, made)
  })
}

/** What zlib makes of what follows a stream's lead, and the stream with that one's checksum behind it; null where it refuses it. */
function byZlib(data: Uint8Array, most: number): { bytes: Uint8Array; stream: Uint8Array } | null {
  try {
    // Node's types don't know of `info`.
    const { buffer, engine } = inflateRawSync(data.subarray(2), {
      maxOutputLength: most,
      info: true,
    }) as unknown as { buffer: Buffer; engine: { bytesWritten: number } }
    const end = 2 + engine.bytesWritten
    return { bytes: buffer, stream: Buffer.concat([data.subarray(0, end), adler(buffer)]) }
  } catch {
    return null
  }
}

/** Adler-32 as RFC 1950 has it. */
function adler(bytes: Uint8Array): Buffer {
  let [a, b] = [1, 0]
  for (const byte of bytes) {
    a = (a + byte) % 65521
    b = (b + a) % 65521
  }
  const out = Buffer.alloc(4)
  out.writeUInt32BE(b * 65536 + a)
  return out
}

/** Whether a stream makes what zlib makes of it. @returns whether that is anything */
function agrees(data: Uint8Array, most: number): boolean {
  const expected = byZlib(data, most)
  const made = inflated(expected?.stream ?? data, most)
  expect(made === null).toBe(expected === null)
  if (made !== null && expected !== null) expect(Buffer.compare(made, expected.bytes)).toBe(0)
  return made !== null
}

const random = randomFrom('inflate')
const pictures: Record<string, Uint8Array> = {
  'a single byte': Uint8Array.of(7),
  'one byte over and over': new Uint8Array(70_000).fill(3),
  'noise, which is stored as it is': Uint8Array.from({ length: 70_000 }, () => random() * 256),
  'grain of few values': Uint8Array.from({ length: 90_000 }, () => 128 + 6 * (random() + random() - 1)),
  'grain whose codes are long': Uint8Array.from({ length: 200_000 }, () => 256 * random() ** 12),
  'a ramp with a period of 3': Uint8Array.from({ length: 30_000 }, (_, i) => i % 3),
  'a ramp with a period of 9': Uint8Array.from({ length: 30_000 }, (_, i) => 20 * (i % 9)),
  'what comes again after 32 kB': new Uint8Array(100_000).map((_, i) => (i * i * 31) >> (i % 7)),
}

describe('what zlib packs', () => {
  const strategies = [how.Z_DEFAULT_STRATEGY, how.Z_FIXED, how.Z_HUFFMAN_ONLY, how.Z_RLE]
  for (const [title, bytes] of Object.entries(pictures))
    test(`comes back: ${title}`, () => {
      for (const strategy of strategies)
        for (const level of [0, 1, 4, 9])
          for (const windowBits of [9, 15]) {
            const data = deflateSync(bytes, { level, strategy, windowBits })
            expect(Buffer.compare(inflated(data, bytes.length)!, bytes)).toBe(0)
          }
    })

  test('comes back whatever it is, with more room than it takes, and with other bytes behind it', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 600 }), fc.nat(40), fc.nat(40), (bytes, room, behind) => {
        const data = Buffer.concat([deflateSync(bytes), new Uint8Array(behind).fill(0xa5)])
        expect(inflated(data, bytes.length + room)).toEqual(bytes)
      }),
    )
  })
})

describe('what zlib refuses', () => {
  const bytes = pictures['grain of few values'].subarray(0, 3000)
  const packed = deflateSync(bytes)

  test('is refused: more than there is room for', () => {
    expect(inflated(packed, bytes.length - 1)).toBeNull()
    expect(inflated(deflateSync(bytes, { level: 0 }), bytes.length - 1)).toBeNull()
  })

  test('is refused: a stream that ends anywhere', () => {
    for (let length = 0; length < packed.length; length++)
      expect(inflated(packed.subarray(0, length), bytes.length)).toBeNull()
  })

  test('is refused: no zlib stream, a dictionary, a wrong checksum', () => {
    expect(inflated(deflateRawSync(bytes), bytes.length)).toBeNull()
    expect(inflated(deflateSync(bytes, { dictionary: Buffer.from('grain') }), bytes.length)).toBeNull()
    const wrong = Buffer.from(packed)
    wrong[wrong.length - 1] ^= 1
    expect(inflated(wrong, bytes.length)).toBeNull()
  })

  test('is what is refused: streams with bytes changed at random', () => {
    let kept = 0
    const rounds = 2000
    for (let round = 0; round < rounds; round++) {
      const strategy = round % 2 === 0 ? how.Z_FIXED : how.Z_DEFAULT_STRATEGY
      const data = deflateSync(bytes.subarray(0, 60 + Math.floor(random() * 900)), { strategy })
      for (let k = 0; k < 1 + (round % 3); k++)
        data[2 + Math.floor(random() * (data.length - 2))] = random() * 256
      if (agrees(data, bytes.length)) kept++
    }
    expect(kept).toBeGreaterThan(rounds / 10)
    expect(kept).toBeLessThan(rounds)
  })

  test('is what is refused: a block of bits made at random, with the usual codes or with its own', () => {
    let kept = 0
    const rounds = 4000
    for (let round = 0; round < rounds; round++) {
      const data = Uint8Array.from({ length: 300 }, () => random() * 256)
      data.set([0x78, 0x01, (data[2] & 0xf8) | (round % 2 === 0 ? 3 : 5)])
      if (agrees(data, 8192)) kept++
    }
    expect(kept).toBeGreaterThan(rounds / 100)
    expect(kept).toBeLessThan(rounds)
  })
})
