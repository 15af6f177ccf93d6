// Laws: what will not hold is seen on its weakest frame, and what has a name of its own and is none of the best three round that,
// unless it was asked for.
import { describe, expect, test } from 'vitest'
import { carriedUnder } from '../../../src/sheet/data/carry-part.js'
import { playedFrames, playing, whyFewer } from '../../../src/sheet/data/played.js'
import { CODINGS } from '../../../src/sheet/html/encode.js'
import { quaysideResult } from '../quayside.js'

const { candidates } = quaysideResult({ candidates: 7, frames: 4 })
const PLAN = { coding: CODINGS[0], ways: 7, step: 1 }
const failing = (from: number) =>
  candidates.map((c, i) => ({ ...c, verdict: i < from ? ('holds up' as const) : ('will not hold' as const) }))
const carried = (all: Parameters<typeof carriedUnder>[0], plan = PLAN) =>
  carriedUnder(all, plan).map(({ length }) => length)

test('what holds up plays, what will not hold shows one frame', () => {
  expect(carried(failing(5))).toEqual([4, 4, 4, 4, 4, 1, 1])
})

test('where nothing holds the best three play', () => {
  expect(carried(failing(0))).toEqual([4, 4, 4, 1, 1, 1, 1])
})

test('what was asked for plays, whatever comes of it', () => {
  const all = failing(3).map((c, i) => (i === 6 ? { ...c, asked: true as const } : c))
  expect(carried(all)).toEqual([4, 4, 4, 1, 1, 1, 4])
})

test('where room is short the best of those that play do', () => {
  const all = failing(3).map((c, i) => (i === 6 ? { ...c, asked: true as const } : c))
  expect(carried(all, { ...PLAN, ways: 3 })).toEqual([4, 4, 4, 1, 1, 1, 1])
})

test('why one frame is alone is said, and how all of them are had', () => {
  const [hold, , , , stack] = failing(0)
  expect(whyFewer({ ...hold, id: 'hold-1002' }, 3)).toBe(
    'Its weakest frame alone, as it will not hold; a search with --try hold-1002 plays it.',
  )
  // A stack's name does not say which frames it is made of.
  expect(whyFewer({ ...stack, id: 'stack-1' }, 3)).toBe('Its weakest frame alone, as it will not hold.')
  expect(whyFewer({ ...hold, verdict: 'needs work' }, 3)).toBeNull()
})

test('somebody who passes is not played on the target', () => {
  const passer = { ...candidates[0], moment: { what: 'object' } } as (typeof candidates)[number]
  expect([...playing([passer, candidates[1]]).keys()]).toEqual([candidates[1]])
  expect(whyFewer(passer, 0)).toMatch(/^Where it peaks alone/)
})

describe('over a long range', () => {
  const long = quaysideResult({ candidates: 7, frames: 40 })
  /** Holds alone, the weakest frame of each where it is asked to be. */
  const weakest = (at: number) =>
    Array.from({ length: 7 }, (_, i) => {
      const [{ frames, ...hold }] = long.candidates
      const worse = frames.map((f, k) => ({ ...f, seam: k === at ? 3 : 1 }))
      return {
        ...hold,
        kind: 'hold' as const,
        id: `hold-${1200 + i}`,
        verdict: 'holds up' as const,
        frames: worse,
      }
    })
  const twelveFrom = (from: number) => Array.from({ length: 12 }, (_, i) => from + i)

  test('the best three play whole, others the twelve frames round their weakest', () => {
    const all = weakest(20)
    expect(carried(all)).toEqual([40, 40, 40, 12, 12, 12, 12])
    expect(playedFrames(all[3], 3)).toEqual(twelveFrom(14))
    expect(whyFewer(all[3], 3)).toBe(
      'The 12 frames round its weakest, as it is none of the best three; a search with --try hold-1203 plays it whole.',
    )
    expect(whyFewer(all[2], 2)).toBeNull()
  })

  test('at either end of the range there are as many', () => {
    expect(playedFrames(weakest(2)[3], 3)).toEqual(twelveFrom(0))
    expect(playedFrames(weakest(39)[3], 3)).toEqual(twelveFrom(28))
  })

  test('what was asked for, and what no name asks for again, plays whole', () => {
    const [one, two, three, asked, stack, hold] = weakest(20)
    const ways = [one, two, three, { ...asked, asked: true as const }, { ...stack, id: 'stack-2' }, hold]
    expect(carried(ways)).toEqual([40, 40, 40, 40, 40, 12])
    expect(whyFewer(ways[4], 4)).toBeNull()
  })

  test('a moment plays whole, as its course is what is looked at', () => {
    const ways = weakest(20).map((c) => ({ ...c, moment: { what: 'shadow', peak: c.frames[20].donor } }))
    expect(carried(ways as unknown as typeof candidates)).toEqual([40, 40, 40, 40, 40, 40, 40])
  })
})
