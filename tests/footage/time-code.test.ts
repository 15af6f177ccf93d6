// SMPTE ST 12-1's rules for counting frames, by their own consequences: a day has 24 hours, and numbers are left out.
import { describe, expect, test } from 'vitest'
import { timeCodeAfter } from '../../src/footage/time-code.js'

describe('the time code after so many frames', () => {
  test.each([
    ['01:02:03:04', 0, 24, '01:02:03:04'],
    ['01:02:03:04', 20, 24, '01:02:04:00'],
    ['00:00:59:23', 1, 23.976, '00:01:00:00'],
    ['23:59:59:24', 1, 25, '00:00:00:00'],
    // drop-frame: numbers 0 and 1 are left out in each minute but every tenth
    ['00:00:59;29', 1, 29.97, '00:01:00;02'],
    ['00:09:59;29', 1, 29.97, '00:10:00;00'],
    ['00:10:00;01', 1, 29.97, '00:10:00;02'],
    ['00:00:59;59', 1, 59.94, '00:01:00;04'],
    // so that an hour of 29.97 is 107892 frames
    ['00:00:00;00', 107892, 29.97, '01:00:00;00'],
    ['00:00:00:00', 108000, 30, '01:00:00:00'],
    ['23:59:59;29', 1, 29.97, '00:00:00;00'],
  ])('%s, %d on at %d frames a second, is %s', (from, frames, rate, wanted) => {
    expect(timeCodeAfter(from, frames, rate)).toBe(wanted)
  })

  test('every frame of drop-frame time has its own number, one after the other', () => {
    let last = '00:08:59;00'
    const seen = new Set([last])
    for (let n = 1; n < 4000; n++) {
      const next = timeCodeAfter('00:08:59;00', n, 29.97)!
      expect(timeCodeAfter(last, 1, 29.97)).toBe(next)
      last = next
      seen.add(next)
    }
    expect(seen.size).toBe(4000)
  })

  test('of a text that is none there is none', () => {
    expect(timeCodeAfter('noon', 1, 24)).toBeUndefined()
  })
})
