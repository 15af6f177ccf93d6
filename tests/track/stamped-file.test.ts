// Files of the cache, read into room that the caller has.
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { isStamped, readStamped, STAMPED_BYTES, stampOf, writeStamped } from '../../src/track/stamped-file.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-stamped-'))
afterAll(() => rmSync(folder, { recursive: true }))
const from = join(folder, 'frame.exr')
const path = join(folder, 'frame.kept')
writeFileSync(from, 'a frame')
const samples = Uint8Array.from({ length: 64 }, (_, i) => i)

test('samples come back as they were kept, and of a frame that was written again they do not', async () => {
  await writeStamped(path, samples, await stampOf(from))
  const bytes = Buffer.alloc(samples.length + STAMPED_BYTES)
  expect(await readStamped(path, () => bytes, from)).toBe(true)
  expect(bytes.subarray(0, samples.length)).toEqual(Buffer.from(samples))
  expect(await isStamped(path, samples.length, await stampOf(from))).toBe(true)
  writeFileSync(from, 'the frame, rendered again')
  expect(await readStamped(path, () => bytes, from)).toBe(false)
  expect(await isStamped(path, samples.length, await stampOf(from))).toBe(false)
})

/** Where the system lists what a process has open (Linux). */
const OPEN = '/proc/self/fd'
const isListed = (() => {
  try {
    return readdirSync(OPEN).length > 0
  } catch {
    return false
  }
})()

test.runIf(isListed)(
  'where there is no room for a kept rectangle its file is closed all the same',
  async () => {
    await writeStamped(path, samples, await stampOf(from))
    const before = readdirSync(OPEN).length
    const noRoom = () => {
      throw new RangeError('Array buffer allocation failed')
    }
    for (let i = 0; i < 20; i++) expect(await readStamped(path, noRoom, from)).toBe(false)
    expect(readdirSync(OPEN).length).toBeLessThan(before + 5)
  },
)
