// Ends of the strip's scales, its numbers and its words. Truth: laws; light, movement and faults planted; lanes as the page's style has them.
import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { expect, test } from 'vitest'
import type { StripFrame } from '../../../src/desk/messages.js'
import { LANES, STRIP_HEIGHT } from '../../../src/desk/page/strip-draw.js'
import { numbersUnder, xOf } from '../../../src/desk/page/strip-scale.js'
import { axesOf, countsOf, frameInWords, pxText, stripInWords } from '../../../src/desk/page/strip-values.js'

const asMap = (frames: readonly StripFrame[]) => new Map(frames.map((each) => [each.frame, each]))

/** Light stands at -3 but for a shadow of half a stop and a gleam of a quarter; one frame repeats, one can't be read. */
const PLANTED = asMap([
  { frame: 1001, light: -3, moved: null, repeats: null },
  { frame: 1002, light: -3.5, moved: 2.25, repeats: null },
  { frame: 1003, light: -3, moved: 127.4, repeats: null },
  { frame: 1004, light: -3, moved: 0, repeats: 1003 },
  { frame: 1005, light: null, moved: null, repeats: null, message: 'm.1005.exr ends too soon' },
  { frame: 1010, light: -2.75, moved: 4, repeats: null },
])
const ABOUT = { frames: [1001, 1002, 1003, 1004, 1005, 1010], gaps: [{ first: 1006, last: 1009 }] }

test('the scale of light ends at the planted shadow and gleam, in stops from the light that is usual', () => {
  const { light, lights, mostPx } = axesOf(PLANTED)
  expect(light!.low).toBeCloseTo(-0.5, 12)
  expect(light!.high).toBeCloseTo(0.25, 12)
  expect(lights.get(1003)).toBe(0)
  expect(mostPx).toBe(127.4)
})

test('no light and no movement lies outside of its scale, and exposure moves no end of it', () => {
  const light = fc.double({ min: -20, max: 12, noNaN: true })
  const moved = fc.option(fc.double({ min: 0, max: 5000, noNaN: true }))
  fc.assert(
    fc.property(fc.array(fc.tuple(light, moved), { minLength: 1, maxLength: 60 }), (all) => {
      const axesAt = (stops: number) =>
        axesOf(
          asMap(all.map(([each, px], frame) => ({ frame, light: each + stops, moved: px, repeats: null }))),
        )
      const axes = axesAt(0)
      for (const each of axes.lights.values()) {
        expect(each!).toBeGreaterThanOrEqual(axes.light!.low)
        expect(each!).toBeLessThanOrEqual(axes.light!.high)
      }
      for (const [, px] of all) expect(px ?? 0).toBeLessThanOrEqual(axes.mostPx)
      expect(axesAt(2).light!.low).toBeCloseTo(axes.light!.low, 9)
      expect(axesAt(2).light!.high).toBeCloseTo(axes.light!.high, 9)
    }),
  )
})

test('a plate that stands still is not blown up: its noise stays small beside its scales', () => {
  const { light, mostPx } = axesOf(
    asMap([
      { frame: 1, light: -4, moved: null, repeats: null },
      { frame: 2, light: -4.002, moved: 0.03, repeats: null },
    ]),
  )
  expect(light!.high - light!.low).toBeGreaterThan(50 * 0.002)
  expect(light!.high).toBeCloseTo(-light!.low, 12)
  expect(mostPx).toBeGreaterThan(10 * 0.03)
})

test('while no light is known its scale has no ends', () => {
  expect(axesOf(new Map()).light).toBeNull()
  expect(
    axesOf(asMap([{ frame: 1, light: null, moved: null, repeats: null, message: 'x' }])).light,
  ).toBeNull()
})

test('what is repeated and what is unreadable are counted apart', () => {
  const { frames } = ABOUT
  expect(countsOf(PLANTED, frames)).toEqual({ repeated: 1, unreadable: 1, unmeasured: 0 })
  // Nobody may take "none" from a plate that is not read yet.
  expect(countsOf(new Map(), frames)).toEqual({ repeated: 0, unreadable: 0, unmeasured: 6 })
})

test.each([
  [1001, 'light 0.00 stops'],
  [1002, 'light −0.50 stops, moved 2.3 px'],
  [1003, 'light 0.00 stops, moved 127 px'],
  [1004, 'light 0.00 stops, repeats 1003'],
  [1005, 'unreadable'],
  [1007, 'not measured yet'],
])('frame %i in words: %s', (frame, words) => {
  expect(frameInWords(PLANTED, axesOf(PLANTED), frame)).toBe(words)
})

test('the strip in words says its frames, its faults and the ends of its scales', () => {
  expect(stripInWords(ABOUT, PLANTED)).toBe(
    '6 frames, 1001 to 1010, 1 gap, 1 repeated, 1 unreadable. ' +
      'Light is drawn from −0.50 to +0.25 stops from its usual. ' +
      'Movement is drawn from 0 to 127 px from a frame to the next.',
  )
  expect(stripInWords(ABOUT, new Map())).toContain('6 not measured yet')
  expect(stripInWords(ABOUT, new Map())).not.toContain('Light')
})

test('pixels have a tenth until they have three figures without', () => {
  expect([0, 0.04, 9.96, 99.94, 99.95, 1280].map(pxText)).toEqual([
    '0.0',
    '0.0',
    '10.0',
    '99.9',
    '100',
    '1280',
  ])
})

test('numbers under the strip begin and end with the plate and keep apart', () => {
  expect(numbersUnder({ first: 1001, last: 1265, width: 790 }, 64)).toEqual([
    1001, 1050, 1100, 1150, 1200, 1265,
  ])
  expect(numbersUnder({ first: 7, last: 7, width: 790 }, 64)).toEqual([7])
  fc.assert(
    fc.property(fc.nat(2000), fc.nat(5000), fc.integer({ min: 1, max: 4000 }), (first, more, width) => {
      const scale = { first, last: first + more, width }
      const all = numbersUnder(scale, 64)
      expect(all[0]).toBe(first)
      for (let i = 1; i < all.length; i++)
        expect(xOf(scale, all[i]!) - xOf(scale, all[i - 1]!)).toBeGreaterThanOrEqual(64 - 1e-6)
      if (all.length > 1) expect(all.at(-1)).toBe(scale.last)
    }),
  )
})

test('names beside the lanes are as high as the lanes', () => {
  const css = readFileSync(new URL('../../../src/desk/page/strip.css', import.meta.url), 'utf8')
  const rows = /\.strip-lanes \{[^}]*grid-template-rows: ([^;]*);/.exec(css)![1]!
  expect(rows.split(' ').map((row) => 16 * Number.parseFloat(row))).toEqual(Object.values(LANES))
  const canvas = /\.strip canvas \{[^}]*height: ([\d.]+)rem/.exec(css)![1]
  expect(16 * Number(canvas)).toBe(STRIP_HEIGHT)
  const end = /\.strip-end \{[^}]*height: ([\d.]+)rem/.exec(css)![1]
  expect(16 * Number(end)).toBe(STRIP_HEIGHT - LANES.numbers)
})
