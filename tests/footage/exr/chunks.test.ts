// Chunks may lie anywhere in a file, however they are fetched: the same picture as from OpenEXR's own order (fixtures/exr).
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { open } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test, vi } from 'vitest'
import { exrReader } from '../../../src/footage/exr/reader.js'

const WHOLE = { x: 0, y: 0, w: 27, h: 37 }
const folder = mkdtempSync(join(tmpdir(), 'offcut-chunks-'))
afterAll(() => rmSync(folder, { recursive: true }))

interface Parts {
  readonly header: Buffer
  readonly chunks: readonly Buffer[]
}

/** A single-part file of rows whose chunks lie one after the other, taken apart. */
function partsOf(bytes: Buffer, count: number): Parts {
  let table = bytes.indexOf(Buffer.from('screenWindowWidth'))
  while (Number(bytes.readBigUInt64LE(table)) !== table + 8 * count) table++
  const offsets = Array.from({ length: count }, (_, i) => Number(bytes.readBigUInt64LE(table + 8 * i)))
  return {
    header: bytes.subarray(0, table),
    chunks: offsets.map((from, i) => bytes.subarray(from, offsets[i + 1] ?? bytes.length)),
  }
}

/** The same file with the chunks in another order, and so many bytes that belong to nobody before each. */
function laid({ header, chunks }: Parts, order: readonly number[], gap: number): string {
  const table = Buffer.alloc(8 * chunks.length)
  const laidOut: Buffer[] = []
  let at = header.length + table.length
  for (const i of order) {
    at += gap
    table.writeBigUInt64LE(BigInt(at), 8 * i)
    laidOut.push(Buffer.alloc(gap, 0xa5), chunks[i])
    at += chunks[i].length
  }
  const path = join(folder, `${order.join('-').slice(0, 40)} ${gap}.exr`)
  writeFileSync(path, Buffer.concat([header, table, ...laidOut]))
  return path
}

describe('chunks that lie elsewhere than one after the other', () => {
  test.each([
    ['half-none.exr', 37],
    ['half-zips.exr', 37],
    ['half-zip.exr', 3],
    ['half-piz.exr', 2],
    ['half-dwaa.exr', 2],
  ])('%s is the same picture', async (name, count) => {
    const expected = await exrReader.read(`fixtures/exr/${name}`, WHOLE)
    const parts = partsOf(readFileSync(`fixtures/exr/${name}`), count)
    const forwards = parts.chunks.map((_, i) => i)
    const turned = [...forwards.slice(5 % count), ...forwards.slice(0, 5 % count)]
    // odd gaps as well, so that samples lie at odd places
    for (const order of [forwards, forwards.toReversed(), turned]) {
      for (const gap of [0, 1, 40]) {
        const { data } = await exrReader.read(laid(parts, order, gap), WHOLE)
        expect(data).toEqual(expected.data)
      }
    }
  })
})

test('neighbouring rows come in one read', async () => {
  const path = 'fixtures/exr/half-none.exr'
  const handle = await open(path)
  const read = vi.spyOn(Object.getPrototypeOf(handle), 'read')
  await handle.close()
  await exrReader.read(path, { x: 3, y: 4, w: 10, h: 30 })
  const reads = read.mock.calls.length
  read.mockRestore()
  // the header, the table, the rows
  expect(reads).toBe(3)
})

test.each([
  ['another place', 0, 9, 'has 9 where the rows from 20 should begin with 20'],
  ['fewer bytes than its samples', 4, 8, 'has 8 bytes in a stored chunk'],
  ['more bytes than its samples', 4, 9999, 'has 9999 bytes for the rows from 20'],
])('a row between others that tells %s is refused', async (_, at, value, words) => {
  const { header, chunks } = partsOf(readFileSync('fixtures/exr/half-none.exr'), 37)
  const changed = chunks.map((chunk) => Buffer.from(chunk))
  changed[20].writeInt32LE(value, at)
  const order = chunks.map((_, i) => i)
  await expect(exrReader.read(laid({ header, chunks: changed }, order, 0), WHOLE)).rejects.toThrow(words)
})
