// Law: what will not hold is seen on its weakest frame, unless it is among the best three or was asked for.
import { expect, test } from 'vitest'
import { carriedUnder } from '../../../src/sheet/data/carry-part.js'
import { playing, whyAlone } from '../../../src/sheet/data/played.js'
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
  expect(whyAlone({ ...hold, id: 'hold-1002' }, 3)).toBe(
    'Its weakest frame alone, as it will not hold; a search with --try hold-1002 plays it.',
  )
  // A stack's name does not say which frames it is made of.
  expect(whyAlone({ ...stack, id: 'stack-1' }, 3)).toBe('Its weakest frame alone, as it will not hold.')
  expect(whyAlone({ ...hold, verdict: 'needs work' }, 3)).toBeNull()
})

test('somebody who passes is not played on the target', () => {
  const passer = { ...candidates[0], moment: { what: 'object' } } as (typeof candidates)[number]
  expect(playing([passer, candidates[1]])).toEqual([candidates[1]])
  expect(whyAlone(passer, 0)).toMatch(/^Where it peaks alone/)
})
