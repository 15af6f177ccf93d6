import { describe, expect, test } from 'vitest'
import { fuzzExrDpx } from '../fuzz/exr-dpx.js'

describe('broken EXR and DPX frames', () => {
  test('of 400 mutated files each is read or refused with a documented error, within bounded time and memory', async () => {
    const { refused, read, slowestMs, grownBytes } = await fuzzExrDpx(400, 20261125)
    const count = Object.values(refused).reduce((a, b) => a + b, 0)
    expect(read + count).toBe(400)
    // both happen: mutations neither spare every file nor break every one
    expect(read).toBeGreaterThan(60)
    expect(refused.EXR_BAD).toBeGreaterThan(60)
    expect(refused.DPX_BAD).toBeGreaterThan(20)
    expect(slowestMs).toBeLessThan(2000)
    expect(grownBytes).toBeLessThan(400 << 20)
    // a second of work; the rest is for machines that are busy with something else
  }, 60_000)
})
