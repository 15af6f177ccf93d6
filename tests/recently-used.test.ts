import { expect, test } from 'vitest'
import { RecentlyUsed } from '../src/recently-used.js'

const namesIn = (kept: RecentlyUsed<string>, among: string) =>
  [...among].filter((n) => kept.get(n) !== undefined)

test('what was used longest ago goes when there is no more room', () => {
  const kept = new RecentlyUsed<string>(30)
  for (const name of 'abc') kept.set(name, name, 10)
  kept.get('a')
  kept.set('d', 'd', 10)
  expect(namesIn(kept, 'abcd')).toEqual(['a', 'c', 'd'])
})

test('one that is larger than all the room is kept alone, and the next one takes its place', () => {
  const kept = new RecentlyUsed<string>(30)
  kept.set('a', 'a', 10)
  kept.set('b', 'b', 50)
  expect(namesIn(kept, 'ab')).toEqual(['b'])
  kept.set('c', 'c', 10)
  expect(namesIn(kept, 'abc')).toEqual(['c'])
})

test('a name has one value, and its room is counted once', () => {
  const kept = new RecentlyUsed<string>(30)
  kept.set('a', 'old', 20)
  kept.set('a', 'new', 20)
  kept.set('b', 'b', 10)
  expect(kept.get('a')).toBe('new')
  expect(kept.get('b')).toBe('b')
  kept.delete('a')
  kept.set('c', 'c', 20)
  expect(namesIn(kept, 'abc')).toEqual(['b', 'c'])
})
