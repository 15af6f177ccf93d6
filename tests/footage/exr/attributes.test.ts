import { describe, expect, test } from 'vitest'
import { packTimeCode, rationalOf, unpackTimeCode } from '../../../src/footage/exr/attributes.js'

describe('frame rates', () => {
  // SMPTE ST 428-11 and common practice: the television rates are n * 1000 / 1001.
  test.each([
    [24, [24, 1]],
    [25, [25, 1]],
    [23.976, [24000, 1001]],
    [24000 / 1001, [24000, 1001]],
    [29.97, [30000, 1001]],
    [59.94, [60000, 1001]],
    [12.5, [25, 2]],
    [1000, [1000, 1]],
    [0.5, [1, 2]],
  ])('%d frames per second is the fraction %j', (rate, fraction) => {
    expect(rationalOf(rate)).toEqual(fraction)
  })
})

describe('time codes', () => {
  // Packing checked by hand against what exrheader of OpenEXR prints for the word (see write-exr.test.ts as well).
  test.each([
    ['01:02:03:04', 0x01020304],
    ['23:59:59:29', 0x23595929],
    ['10:00:00;02', 0x10000042],
  ])('%s is the word %i both ways', (text, word) => {
    expect(packTimeCode(text)).toBe(word)
    expect(unpackTimeCode(word)).toBe(text)
  })

  test('text or words that are no time of day are none', () => {
    for (const text of ['24:00:00:00', '00:60:00:00', '1:2:3:4', '00:00:00:40', ''])
      expect(packTimeCode(text)).toBeNull()
    for (const word of [0xffffffff, 0x0a000000, 0x24000000, 0x00600000])
      expect(unpackTimeCode(word)).toBeNull()
  })

  test('flag bits beside the digits do not change the time', () => {
    expect(unpackTimeCode(0x81828384)).toBe('01:02:03:04')
  })
})
