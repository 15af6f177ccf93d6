// The picked candidate while a search still ranks.
import { expect, test } from 'vitest'
import { pickedOf } from '../../../src/desk/page/picked.js'
import type { Candidate } from '../../../src/search/result.js'

/** A moment whose peak lands on 1043. */
const moment = (start: number, peak: number, end: number, donor = 0) =>
  ({
    id: `run${peak < 1043 ? '' : '+'}${peak - 1043}${donor === 0 ? '' : `.p${donor + 1}`}`,
    donor,
    timeOffset: peak - 1043,
    moment: { donor, start, peak, end },
  }) as Candidate

test.each([
  { title: 'the one of its name', picked: 'run+87', wanted: 'run+87' },
  {
    title: 'a moment whose peak was placed anew, by the frame it was picked on',
    picked: 'run+82',
    wanted: 'run+87',
  },
  { title: 'one before the wanted frame likewise', picked: 'run-30', wanted: 'run-28' },
  { title: 'not one of another plate', picked: 'run+82.p2', wanted: 'run+2' },
  { title: 'the first, where what was picked is in none', picked: 'run+300', wanted: 'run+2' },
  { title: 'the first, where none was picked', picked: null, wanted: 'run+2' },
])('$title', ({ picked, wanted }) => {
  const all = [moment(1044, 1045, 1050), moment(1117, 1130, 1143), moment(1010, 1015, 1020)]
  expect(pickedOf(all, picked)!.id).toBe(wanted)
})

test('of nothing nothing is picked, and a donor that is gone gives way to the first', () => {
  expect(pickedOf([], 'run+82')).toBeNull()
  const hold = { id: 'hold-1100', donor: 0, timeOffset: null } as Candidate
  expect(pickedOf([hold], 'hold-1090')).toBe(hold)
})
