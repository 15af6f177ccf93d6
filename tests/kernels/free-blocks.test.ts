import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { type Block, FreeBlocks } from '../../src/kernels/free-blocks.js'

describe('free blocks', () => {
  test('whatever is taken and given back in any order: nobody lies in another, and in the end all is one block again', () => {
    const steps = fc.array(fc.tuple(fc.boolean(), fc.integer({ min: 1, max: 40 }), fc.nat()), {
      maxLength: 200,
    })
    fc.assert(
      fc.property(steps, (asked) => {
        const free = new FreeBlocks()
        free.give({ at: 100, end: 400 })
        const used: Block[] = []
        for (const [takes, size, which] of asked) {
          if (!takes && used.length > 0) free.give(used.splice(which % used.length, 1)[0])
          const taken = takes ? free.take(size) : null
          if (taken === null) continue
          expect(taken.end - taken.at).toBe(size)
          expect(taken.at >= 100 && taken.end <= 400).toBe(true)
          for (const other of used) expect(taken.end <= other.at || taken.at >= other.end).toBe(true)
          used.push(taken)
        }
        for (const block of used) free.give(block)
        expect(free.take(300)).toEqual({ at: 100, end: 400 })
        expect(free.take(1)).toBeNull()
      }),
    )
  })

  test('the smallest that is large enough is taken', () => {
    const free = new FreeBlocks()
    for (const [at, end] of [
      [0, 50],
      [60, 80],
      [90, 120],
    ])
      free.give({ at, end })
    expect(free.take(20)).toEqual({ at: 60, end: 80 })
    expect(free.take(20)).toEqual({ at: 90, end: 110 })
    expect(free.take(51)).toBeNull()
  })

  test('the block at the end is taken whole where it ends just there', () => {
    const free = new FreeBlocks()
    free.give({ at: 10, end: 20 })
    expect(free.takeEndingAt(21)).toBeNull()
    expect(free.takeEndingAt(20)).toEqual({ at: 10, end: 20 })
    expect(free.takeEndingAt(20)).toBeNull()
  })
})
