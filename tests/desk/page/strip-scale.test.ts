// Frames along the strip, and target ranges as they are typed. Truth: laws; frames with gaps planted.
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { framesOf, rangeFault, rangeText } from '../../../src/desk/page/range-text.js'
import {
  isBroken,
  nearestFrame,
  numberAt,
  steppedFrame,
  ticks,
  xOf,
} from '../../../src/desk/page/strip-scale.js'

const GAPPED = [1001, 1002, 1003, 1010, 1011, 1030]
const frames = fc
  .uniqueArray(fc.integer({ min: -50, max: 3000 }), { minLength: 1, maxLength: 80 })
  .map((all) => all.sort((a, b) => a - b))

test('the middle of every frame belongs to that frame', () => {
  const scale = { first: 1001, last: 1265, width: 913 }
  for (let frame = scale.first; frame <= scale.last; frame++) {
    expect(numberAt(scale, (xOf(scale, frame) + xOf(scale, frame + 1)) / 2)).toBe(frame)
  }
})

test('left of the strip is the first frame, right of it the last', () => {
  const scale = { first: -3, last: 12, width: 100 }
  expect([numberAt(scale, -40), numberAt(scale, 4000)]).toEqual([-3, 12])
})

test('no other frame lies nearer than the nearest', () => {
  fc.assert(
    fc.property(frames, fc.integer({ min: -100, max: 3100 }), (all, number) => {
      const away = Math.abs(nearestFrame(all, number) - number)
      expect(all).toContain(nearestFrame(all, number))
      for (const frame of all) expect(Math.abs(frame - number)).toBeGreaterThanOrEqual(away)
    }),
  )
})

test('a step goes over a gap, and stops at the ends', () => {
  expect(steppedFrame(GAPPED, 1003, 1)).toBe(1010)
  expect(steppedFrame(GAPPED, 1010, -1)).toBe(1003)
  expect(steppedFrame(GAPPED, 1002, 10)).toBe(1030)
  expect(steppedFrame(GAPPED, 1002, -10)).toBe(1001)
})

test('a range that is typed out and read again is the frames between its ends, gaps left out', () => {
  expect(rangeText(GAPPED, 1002, 1012)).toBe('1002-1003,1010-1011')
  fc.assert(
    fc.property(frames, fc.nat(), fc.nat(), (all, i, j) => {
      const [a, b] = [all[i % all.length], all[j % all.length]]
      const between = all.filter((f) => f >= Math.min(a, b) && f <= Math.max(a, b))
      expect(framesOf(rangeText(all, a, b))).toEqual(between)
    }),
  )
})

test('what is half typed names no frames', () => {
  expect(framesOf('1001-')).toEqual([])
  expect(framesOf('')).toEqual([])
})

test('numbers under the strip are round and no nearer than asked', () => {
  const scale = { first: 1001, last: 1265, width: 913 }
  const all = ticks(scale, 64)
  expect(all.length).toBeGreaterThan(5)
  for (let i = 1; i < all.length; i++)
    expect(xOf(scale, all[i]) - xOf(scale, all[i - 1])).toBeGreaterThanOrEqual(64)
  for (const frame of all) expect(frame % 10).toBe(0)
})

test('a line breaks at a gap of the plate, not where a frame is not measured yet', () => {
  const gaps = [{ first: 1004, last: 1009 }]
  expect(isBroken(gaps, 1001, 1003)).toBe(false)
  expect(isBroken(gaps, 1003, 1010)).toBe(true)
  expect(isBroken(gaps, 1010, 1030)).toBe(false)
})

test.each([
  ['abc', 'this field takes frames such as 1001-1024, 1001,1005,1009 or 1001-1100:2, got "abc"'],
  ['1010-1002', 'this field takes ranges that go up, such as 1002-1010, got "1010-1002"'],
  ['2000-2001', 'frames 2000-2001 are not in quay.####.exr, which has 1001-1003, 1010-1011, 1030'],
  ['1003-1005', 'frames 1004-1005 are not in quay.####.exr, which has 1001-1003, 1010-1011, 1030'],
  ['0', 'frame 0 is not in quay.####.exr, which has 1001-1003, 1010-1011, 1030'],
  ['1001-1003, 1030', null],
  ['', null],
])('of a range typed as "%s" is said what a search would refuse', (text, says) => {
  expect(rangeFault(text, { name: 'quay.####.exr', frames: GAPPED })).toBe(says)
})
