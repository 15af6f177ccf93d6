import { setImmediate } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { letGo } from '../../src/raster/let-go.js'

const MEGABYTES = 48

test('memory that is let go is gone at once, not when garbage is next collected', async () => {
  // The way out is made for the first, and its other end takes some turns to close.
  letGo(Buffer.allocUnsafeSlow(2 ** 20))
  for (let i = 0; i < 4; i++) await setImmediate()
  const all = Array.from({ length: MEGABYTES }, () => Buffer.allocUnsafeSlow(2 ** 20).fill(1))
  const before = process.memoryUsage().arrayBuffers
  for (const bytes of all) letGo(bytes)
  expect(before - process.memoryUsage().arrayBuffers).toBeGreaterThan((MEGABYTES - 1) * 2 ** 20)
  expect(all.map(({ length }) => length)).toEqual(all.map(() => 0))
})

test('a few bytes, which may lie beside those of others, stay', () => {
  const few = Buffer.from('beside others')
  letGo(few)
  expect(few.toString()).toBe('beside others')
})

test('what other threads see stays', () => {
  const shared = new Uint8Array(new SharedArrayBuffer(2 ** 20)).fill(7)
  letGo(shared)
  expect(shared).toHaveLength(2 ** 20)
  expect(shared.at(-1)).toBe(7)
})
