import { expect, test } from 'vitest'
import { ownPages } from '../../src/raster/own-pages.js'

const MIB = 2 ** 20

test.each([0, 1, 5 * MIB, 16 * MIB, 20 * MIB + 3, 40 * MIB])(
  'memory of %i bytes has as many at least, all zeros, and takes no more than what is touched of it',
  (asked) => {
    const before = process.memoryUsage.rss()
    const memory = ownPages(asked)
    expect(memory.byteLength).toBeGreaterThanOrEqual(asked)
    // Of a large one the rest is in vain.
    expect(memory.byteLength).toBeLessThanOrEqual(Math.max(asked, asked < 16 * MIB ? asked : 32 * MIB + 1))
    expect(process.memoryUsage.rss() - before).toBeLessThan(asked + 8 * MIB)
    expect(new Uint8Array(memory, 0, asked).every((v) => v === 0)).toBe(true)
  },
)
