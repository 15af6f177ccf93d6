import fc from 'fast-check'
import { expect, test } from 'vitest'
import { printOf, repeatedRuns } from '../../src/footage/repeats.js'
import { frame } from '../../src/raster/frame.js'

const prints = (text: string, first = 1) => [...text].map((print, i) => ({ frame: first + i, print }))

test('held frames are found as runs', () => {
  expect(repeatedRuns(prints('abbbcdd', 1001))).toEqual([
    { first: 1002, last: 1004, frames: 3 },
    { first: 1006, last: 1007, frames: 2 },
  ])
})

test('a picture that comes back later is no repeat', () => {
  expect(repeatedRuns(prints('abab'))).toEqual([])
})

test('a held frame on either side of a gap is one run, counted by the frames that are there', () => {
  const around = [
    { frame: 10, print: 'a' },
    { frame: 14, print: 'a' },
    { frame: 15, print: 'b' },
  ]
  expect(repeatedRuns(around)).toEqual([{ first: 10, last: 14, frames: 2 }])
})

test('a still plate is one run; nothing and a single frame are none', () => {
  expect(repeatedRuns(prints('aaaa'))).toEqual([{ first: 1, last: 4, frames: 4 }])
  expect(repeatedRuns([])).toEqual([])
  expect(repeatedRuns(prints('a'))).toEqual([])
})

test('the order in which frames arrive makes no difference', () => {
  const word = fc.array(fc.constantFrom('a', 'b'), { maxLength: 20 }).map((letters) => letters.join(''))
  fc.assert(
    fc.property(
      word.chain((text) =>
        fc.tuple(fc.constant(text), fc.shuffledSubarray(prints(text), { minLength: text.length })),
      ),
      ([text, shuffled]) => {
        expect(repeatedRuns(shuffled)).toEqual(repeatedRuns(prints(text)))
      },
    ),
    { seed: 31 },
  )
})

test('equal pictures have equal prints, and the last bit of one sample tells them apart', () => {
  const one = frame(
    2,
    2,
    3,
    Float32Array.from({ length: 12 }, (_, i) => i / 12),
  )
  const same = frame(2, 2, 3, Float32Array.from(one.data))
  expect(printOf(same)).toBe(printOf(one))
  same.data[7] = same.data[7]! * (1 + 2 ** -23)
  expect(printOf(same)).not.toBe(printOf(one))
  // a view into a larger buffer is hashed alone
  const buffer = new Float32Array(20)
  buffer.set(one.data, 5)
  expect(printOf(frame(2, 2, 3, buffer.subarray(5, 17)))).toBe(printOf(one))
})
