// The dip that is pointed at. Planted truth: curves whose deepest frame is known by their formula.
import { describe, expect, test } from 'vitest'
import { extremeNear } from '../../../src/desk/page/extreme.js'
import { inStops, stopsText } from '../../../src/desk/page/light-draw.js'

const curve = (light: (frame: number) => number, first = 1001, last = 1040) =>
  new Map(Array.from({ length: last - first + 1 }, (_, i) => [first + i, light(first + i)] as const))
/** Smooth, `stops` at 1024, nothing from so many frames off. */
const bump = (stops: number, half: number) => (frame: number) =>
  Math.abs(frame - 1024) < half ? (stops * (1 + Math.cos((Math.PI * (frame - 1024)) / half))) / 2 : 0

describe('a dip or gleam', () => {
  test.each([
    ['a dip', bump(-0.6, 5)],
    ['a gleam', bump(0.4, 4)],
    ['a slow one', bump(-0.6, 9)],
    ['one of a frame', (f: number) => (f === 1024 ? -1 : 0)],
    ['one on a slope of light', (f: number) => bump(-0.6, 5)(f) + 0.01 * f],
  ])('%s is found from three frames to either side', (_, light) => {
    for (let at = 1021; at <= 1027; at++) expect(extremeNear(curve(light), at)).toBe(1024)
  })

  test('where nothing stands out it is the frame itself', () => {
    expect(
      extremeNear(
        curve(() => -2),
        1010,
      ),
    ).toBe(1010)
    expect(extremeNear(new Map(), 1010)).toBe(1010)
    expect(extremeNear(new Map([[1010, -1], [1011, null]]), 1011)).toBe(1011) // biome-ignore format: two frames
  })

  test('frames that are not known are passed over', () => {
    const known: Map<number, number | null> = curve(bump(-0.6, 5))
    known.set(1022, null)
    known.delete(1026)
    expect(extremeNear(known, 1021)).toBe(1024)
  })
})

describe('stops', () => {
  test('count from the median, which what passes does not move', () => {
    const lights: Map<number, number | null> = new Map([1, 2, 3, 4, 5].map((f) => [f, -3]))
    lights.set(3, -4).set(4, null)
    expect([...inStops(lights).values()]).toEqual([0, 0, -1, null, 0])
    expect([...inStops(new Map([[1, null]])).values()]).toEqual([null])
  })

  test('are signed, and none is none', () => {
    expect([0.284, -0.5, 0.004, -0.004].map(stopsText)).toEqual([
      '+0.28 stops',
      '−0.50 stops',
      '0.00 stops',
      '0.00 stops',
    ])
  })
})
