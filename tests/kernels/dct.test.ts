// The kernel of DWA's blocks against its straight twin, bit for bit, on plausible and on any coefficients. What OpenEXR
// itself makes of such chunks is in tests/footage.
import { afterAll, describe, expect, test } from 'vitest'
import { linearFromCurve } from '../../src/footage/exr/curve.js'
import { cosineBlocks } from '../../src/kernels/dct.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { bitsToHalf } from '../../src/raster/half.js'
import { randomFrom } from '../random.js'
import { straightBlocks } from './dct.reference.js'
import { Guarded } from './guarded.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

const random = randomFrom('dct')
const scratch32 = new Float32Array(1)
function half(value: number): number {
  scratch32[0] = value
  return bitsToHalf(new Uint32Array(scratch32.buffer)[0])
}
/** Of any size, down to the least and up to the largest. */
const anyHalf = (): number => half((random() < 0.5 ? -1 : 1) * 2 ** (42 * random() - 26))

/** A block's stream: some coefficients with gaps, ended or filled up. */
function block(coefficient: () => number): number[] {
  const words: number[] = []
  const kind = random()
  for (let i = 1; i < 64; ) {
    if (kind < 0.3 || (kind < 0.8 && random() < 0.1)) return [...words, 0xff00]
    if (random() < 0.2) {
      const gap = 1 + Math.floor(random() * (64 - i))
      words.push(0xff00 | gap)
      i += gap
    } else {
      words.push(coefficient())
      i++
    }
  }
  return words
}

const CASES = [
  { title: 'red, green and blue', columns: 45, rows: 32, bytes: [2, 2, 2], table: linearFromCurve() },
  { title: 'red as a float', columns: 19, rows: 9, bytes: [4, 2, 2], table: linearFromCurve() },
  { title: 'one plane by itself', columns: 8, rows: 8, bytes: [2], table: linearFromCurve() },
  { title: 'a linear plane', columns: 33, rows: 17, bytes: [4], table: undefined },
  { title: 'a pixel', columns: 1, rows: 1, bytes: [2], table: undefined },
]

describe('blocks of cosine coefficients', () => {
  test.each(CASES)('$title, whole and in some columns of blocks', ({ columns, rows, bytes, table }) => {
    const across = Math.ceil(columns / 8)
    const blocks = across * Math.ceil(rows / 8) * bytes.length
    for (let round = 0; round < 6; round++) {
      const coefficient = round % 2 === 0 ? anyHalf : () => half(random() - 0.5)
      const dc = Uint16Array.from({ length: blocks }, coefficient)
      const ac = Uint16Array.from(Array.from({ length: blocks }, () => block(coefficient)).flat())
      const expected = straightBlocks(ac, dc, { columns, rows, bytes, table })!
      const from = round < 2 ? 0 : Math.floor(across * random())
      const to = round < 2 ? across : from + 1 + Math.floor((across - from) * random())
      workspace.within((scratch) => {
        const guarded = new Guarded(scratch)
        const samples = bytes.map((b) => guarded.bytes(new Uint8Array(columns * rows * b)))
        const planes = { columns, rows, samples, wide: bytes[0] === 4 ? 1 : 0, table }
        const next = cosineBlocks(workspace, { words: ac, at: 0 }, { words: dc, at: 0 }, planes, from, to)
        expect(next).toBe(expected.next)
        guarded.check()
        for (const [c, plane] of samples.entries()) {
          const wanted = expected.planes[c].map((byte, i) => {
            const column = Math.floor(i / bytes[c]) % columns
            return column >= 8 * from && column < 8 * to ? byte : 0
          })
          expect(plane).toEqual(wanted)
        }
      })
    }
  })

  test('any words are read to the same end, or end early for both', () => {
    const [columns, rows] = [24, 16]
    const bytes = [2, 2, 2]
    const table = linearFromCurve()
    let early = 0
    for (let round = 0; round < 60; round++) {
      const ac = Uint16Array.from({ length: Math.floor(400 * random()) }, () =>
        random() < 0.3 ? 0xff00 | (random() < 0.3 ? 0 : 256 * random()) : 65536 * random(),
      )
      const dc = Uint16Array.from({ length: 18 }, () => 65536 * random())
      const expected = straightBlocks(ac, dc, { columns, rows, bytes, table })
      workspace.within((scratch) => {
        const guarded = new Guarded(scratch)
        const samples = bytes.map((b) => guarded.bytes(new Uint8Array(columns * rows * b)))
        const planes = { columns, rows, samples, wide: 0, table }
        const next = cosineBlocks(workspace, { words: ac, at: 0 }, { words: dc, at: 0 }, planes, 0, 3)
        guarded.check()
        expect(next).toBe(expected?.next ?? null)
        if (expected !== null) expect(samples).toEqual(expected.planes)
        else early++
      })
    }
    expect(early).toBeGreaterThan(5)
    expect(early).toBeLessThan(55)
  })
})
