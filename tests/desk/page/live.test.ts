// The match matrix as it fills in while a search runs.
import { afterEach, expect, test } from 'vitest'
import type { Message } from '../../../src/desk/messages.js'
import { take } from '../../../src/desk/page/live.js'
import { leaveShot, live, shotName } from '../../../src/desk/page/state.js'

afterEach(() => leaveShot(null))

const of = { shot: 'quay', folder: 'search-1' } as const
const donors = [[0, 1001], [0, 1002], [1, 7]] as const // biome-ignore format: three keys
const ranking = (read: number, cells: readonly (readonly [number, number, number | null])[]): Message => ({
  ...of,
  kind: 'ranking',
  read,
  total: 40,
  candidates: [],
  matrix: { targets: [1010, 1011], donors, cells },
})
const rows = () =>
  [...(live.value.get('search-1')?.rows ?? [])].map(([target, { quality }]) => [target, ...quality])

test('what one ranking knew stays where the next says nothing, and the whole rows have the last word', () => {
  shotName.value = 'quay'
  take(ranking(4, [[0, 1, 60]])) // biome-ignore format: short
  expect(rows()).toEqual([[1010, undefined, 60, undefined], [1011, undefined, undefined, undefined]]) // biome-ignore format: rows
  take(ranking(10, [[1, 2, null], [0, 1, 55]])) // biome-ignore format: short
  expect(rows()).toEqual([[1010, undefined, 55, undefined], [1011, undefined, undefined, null]]) // biome-ignore format: rows
  take({ ...of, kind: 'row', target: 1010, donors, quality: [10, 50, 90] })
  expect(rows()).toEqual([[1010, 10, 50, 90], [1011, undefined, undefined, null]]) // biome-ignore format: rows
})

test('what is told of a shot that is not open changes nothing of the one that is', () => {
  shotName.value = 'pier'
  take(ranking(4, [[0, 0, 80]])) // biome-ignore format: short
  expect(rows()).toEqual([])
})
