import { describe, expect, test } from 'vitest'
import {
  atFrame,
  atWay,
  closed,
  extentOf,
  type Look,
  pannedBy,
  projected,
  START,
  swapped,
  withBeside,
} from '../../../src/sheet/page/viewer/look.js'
import { type ViewerData, wholeFor } from '../../../src/sheet/page/viewer/viewer-data.js'

/** Three candidates over targets 1060 to 1064: the second has three of them, the third its weakest alone. */
const data: ViewerData = {
  count: 5,
  masks: [{ outline: '' }],
  targets: [1060, 1061, 1062, 1063, 1064].map((frame) => ({
    ...{ frame, mask: 0 },
    ...{ rect: [10, 20, 40, 30] as const, box: [12, 22, 30, 20] as const },
  })),
  whole: { size: [200, 100], targets: [1, 4] },
  ways: [
    [[0, 1, 2, 3, 4], 2],
    [[0, 2, 4], 2],
    [[3], 0],
  ].map(([targets, start], i) => ({
    ...{ id: `hold-${i}`, kind: 'hold', words: '', verdict: 'holds up', score: 90 - i },
    frames: (targets as number[]).map((at) => [at, 1100, 1] as const),
    start: start as number,
    fewer: null,
  })),
}
const targetOf = ({ way, frame }: Look) => data.targets[data.ways[way!].frames[frame][0]].frame

describe('where the plate’s pixels are twice as wide as high', () => {
  const squeezed: ViewerData = { ...data, pixelAspect: 2 }
  const look = atWay(START, squeezed, 0)

  test('the region and the whole frame are seen as they are projected', () => {
    expect(extentOf(look, squeezed, 0)).toEqual({ x: 20, y: 20, w: 80, h: 30 })
    expect(extentOf({ ...look, whole: true }, squeezed, 0)).toEqual({ x: 0, y: 0, w: 400, h: 100 })
    expect(projected([10, 20, 40, 30], data)).toEqual({ x: 10, y: 20, w: 40, h: 30 })
  })

  test('a drag to the right and down moves the picture by as much both ways', () => {
    expect(pannedBy(look, squeezed, { x: 5, y: 5 }).centre).toEqual({ x: 65, y: 40 })
  })
})

describe('looking closer', () => {
  test('begins with the frame to look at first, and with that again after the page was left', () => {
    const first = atWay(START, data, 0)
    expect(targetOf(first)).toBe(1062)
    const left = closed(atFrame(first, data, 4))
    expect(targetOf(atWay(left, data, 1))).toBe(1064)
  })

  test('goes to another candidate on the same target frame, and where it has none to its own first', () => {
    const last = atFrame(atWay(START, data, 0), data, 4)
    expect(targetOf(atWay(last, data, 1))).toBe(1064)
    const second = atFrame(last, data, 1)
    expect(targetOf(second)).toBe(1061)
    expect(targetOf(atWay(second, data, 1))).toBe(1064)
    expect(targetOf(atWay(second, data, 2))).toBe(1063)
  })

  test('of two puts the other in question, on its side, and back again', () => {
    const two = withBeside(atWay(START, data, 0), 1)
    const other = swapped(two, data)
    expect(other).toMatchObject({ way: 1, beside: 0, right: true })
    expect(targetOf(other)).toBe(1062)
    expect(swapped(other, data)).toEqual(two)
  })

  test('shows nothing beside itself: going to the one beside changes their places', () => {
    const two = withBeside(atWay(START, data, 0), 1)
    expect(atWay(two, data, 1)).toMatchObject({ way: 1, beside: 0 })
    expect(withBeside(two, 0).beside).toBe(null)
    expect(closed(two)).toMatchObject({ way: null, beside: null, right: false })
  })

  test('has round a region the whole frame that is nearest, and says which it is', () => {
    expect(data.targets.map((_, at) => wholeFor(data, at)?.frame)).toEqual([1061, 1061, 1061, 1064, 1064])
    expect(wholeFor({ ...data, whole: undefined }, 0)).toBe(null)
  })
})
