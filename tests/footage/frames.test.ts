// Frame ranges as people write them.
import { expect, test } from 'vitest'
import { parseFrames, printFrames } from '../../src/footage/frames.js'
import { expectRefusal } from '../refusal.js'

test.each([
  ['1069-1060', '1060-1069'],
  ['1001,1069-1060:2', '1060-1069:2'],
  ['5--5', '-5-5'],
])('the range %s is refused, and %s is what goes up', async (text, forwards) => {
  for (const flag of ['`frames`', '`donorFrames`']) {
    await expectRefusal(() => parseFrames(text, flag), {
      code: 'MISUSE',
      exitCode: 2,
      says: [flag, `"${text}"`, `such as ${forwards}`],
    })
  }
})

test('a range of one frame goes up', () => expect(parseFrames('1060-1060')).toEqual([1060]))

test('frames are named as runs, and past a dozen of those the rest is counted', () => {
  expect(printFrames([1043, 1050, 1051, 1052])).toBe('1043, 1050-1052')
  const odd = Array.from({ length: 15 }, (_, i) => 2 * i + 1)
  expect(printFrames(odd)).toBe('1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23 and 3 more')
  expect(printFrames(odd.slice(0, 12))).toBe('1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23')
  expect(printFrames([])).toBe('')
})

test.each([
  '99999999999999999',
  '1001,-9007199254740993',
  '9007199254740992-9007199254740994',
  '1-99999999999',
  '1-99999999999999999:99999999999999999',
  '1-1000000,1000001-2000000',
])('the frames %s are refused at once', async (text) => {
  for (const flag of ['`frames`', '`donorFrames`'])
    await expectRefusal(() => parseFrames(text, flag), {
      code: 'MISUSE',
      exitCode: 2,
      says: [flag, `"${text}"`],
    })
})

test('the largest number that a file name may have is a frame', () => {
  expect(parseFrames('999999999999998-999999999999999')).toEqual([999999999999998, 999999999999999])
})
