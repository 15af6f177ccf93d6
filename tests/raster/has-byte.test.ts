import { expect, test } from 'vitest'
import { hasByte } from '../../src/raster/has-byte.js'

test('a value is found wherever it stands among the bytes that are looked at, and not beside them', () => {
  const all = new Uint8Array(new SharedArrayBuffer(40), 3, 30).fill(1)
  const part = all.subarray(5, 25)
  expect(hasByte(part, 0)).toBe(false)
  expect(hasByte(part.subarray(0, 0), 1)).toBe(false)
  for (let i = 0; i < all.length; i++) {
    all[i] = 0
    expect(hasByte(part, 0)).toBe(i >= 5 && i < 25)
    all[i] = 1
  }
})
