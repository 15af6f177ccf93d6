// What was asked, checked against the footage. The plates are made by hand: nothing here opens a file.
import { describe, expect, test } from 'vitest'
import { KEEP, REACH_PX, SURROUND_PX } from '../../src/defaults.js'
import type { Plate } from '../../src/footage/plate.js'
import { donorFrames, keepOf, masksOf, numbersOf, targetFrames } from '../../src/shot/validate.js'
import { expectRefusal } from '../refusal.js'

const plateOf = (frames: readonly number[], width = 160, height = 120, name = 'quay.####.png'): Plate =>
  ({ name, frames, first: frames[0], last: frames.at(-1)!, width, height }) as Plate
const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)
const QUAY = plateOf(range(1001, 1024))

describe('the target’s frames', () => {
  test('come ascending and each once, from words as from a list', () => {
    expect(targetFrames(QUAY, '1005-1007,1003')).toEqual([1003, 1005, 1006, 1007])
    expect(targetFrames(QUAY, [1007, 1003, 1007, 1005, 1006])).toEqual([1003, 1005, 1006, 1007])
  })

  test('leave the list that they were given as it was', () => {
    const asked = Object.freeze([1004, 1002])
    expect(targetFrames(QUAY, asked)).toEqual([1002, 1004])
  })

  test('beyond the plate are refused with what it has', () =>
    expectRefusal(() => targetFrames(QUAY, '1020-1030'), {
      code: 'FRAMES_OUTSIDE',
      exitCode: 2,
      says: ['frames 1025-1030 lie outside quay.####.png', 'has 1001-1024', 'choose'],
    }))

  test('in a gap of the plate are said to be missing, not to lie outside', () =>
    expectRefusal(() => targetFrames(plateOf([1001, 1002, 1005]), '1002-1004'), {
      code: 'FRAMES_OUTSIDE',
      exitCode: 2,
      says: ['frames 1003-1004 are missing from quay.####.png', '1001-1002, 1005', 'such as 1002'],
    }))

  test('of which some are there are refused with those, as they can be typed', async () => {
    const gapped = plateOf([1001, 1002, 1003, 1005, 1006])
    const { message } = await expectRefusal(() => targetFrames(gapped, '1001-1006'), {
      code: 'FRAMES_OUTSIDE',
      exitCode: 2,
      says: ['frame 1004 is missing from quay.####.png'],
    })
    const such = /such as (\S+)$/.exec(message)![1]
    expect(targetFrames(gapped, such)).toEqual([1001, 1002, 1003, 1005, 1006])
  })

  test('must be at least one', () =>
    expectRefusal(() => targetFrames(QUAY, []), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['frames', 'at least one frame'],
    }))
})

describe('the donors’ frames', () => {
  const take = plateOf([1, 2, 1003], 160, 120, 'take2.####.png')

  test('are all of every plate, in the plates’ order, where none are asked for', () => {
    expect(donorFrames([plateOf([7, 9]), take], {})).toEqual([
      { plate: 0, frame: 7 },
      { plate: 0, frame: 9 },
      { plate: 1, frame: 1 },
      { plate: 1, frame: 2 },
      { plate: 1, frame: 1003 },
    ])
  })

  test('are those of the numbers asked for that a plate has', () => {
    const wanted = [
      { plate: 0, frame: 1003 },
      { plate: 0, frame: 1004 },
      { plate: 1, frame: 1003 },
    ]
    expect(donorFrames([QUAY, take], { donorFrames: '1003-1004' })).toEqual(wanted)
    expect(donorFrames([QUAY, take], { donorFrames: [1003, 1004] })).toEqual(wanted)
  })

  test('that no plate has are refused with what each has', () =>
    expectRefusal(() => donorFrames([QUAY, take], { donorFrames: '5000-5010' }), {
      code: 'FRAMES_OUTSIDE',
      exitCode: 2,
      says: ['quay.####.png has 1001-1024', 'take2.####.png has 1-2, 1003'],
    }))
})

describe('the mask', () => {
  const box = { x: 10, y: 20, w: 30, h: 40 }

  test('of a box is white in it on every frame', async () => {
    const masks = await masksOf({ box }, QUAY, [1002, 1003], 'same')
    expect([...masks.keys()]).toEqual([1002, 1003])
    for (const mask of masks.values()) {
      let white = 0
      for (let y = 0; y < mask.rect.h; y++)
        for (let x = 0; x < mask.rect.w; x++) {
          const [u, v] = [x + mask.rect.x, y + mask.rect.y]
          const inBox = u >= 10 && u < 40 && v >= 20 && v < 60
          expect(mask.data[y * mask.rect.w + x]).toBe(inBox ? 1 : 0)
          if (inBox) white++
        }
      expect(white).toBe(30 * 40)
    }
  })

  test.each([
    ['neither', {}],
    ['both', { mask: 'm.png', box }],
  ])('and a box: %s is refused', async (got, asked) => {
    await expectRefusal(() => masksOf(asked, QUAY, [1001], 'same'), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['mask', 'box', got],
    })
  })
})

describe('reach and surround', () => {
  test('have their defaults on a plate with room for them', () => {
    expect(numbersOf(QUAY, {})).toEqual({ reach: REACH_PX, surround: SURROUND_PX })
  })

  test('that nobody asked for give way on a small plate, down to half its shorter side', () => {
    expect(numbersOf(plateOf([1], 200, 21), {})).toEqual({ reach: 10, surround: 10 })
    // A ring of 2 px is the least that has texture.
    expect(numbersOf(plateOf([1], 3, 3), {})).toEqual({ reach: 1, surround: 2 })
  })

  test.each([0, 1, 60])('a reach of %i px is taken as it is', (reach) =>
    expect(numbersOf(QUAY, { reach }).reach).toBe(reach),
  )
  test.each([2, 3, 60])('a surround of %i px is taken as it is', (surround) =>
    expect(numbersOf(QUAY, { surround }).surround).toBe(surround),
  )

  test.each([-1, 61, 1.5, Number.NaN])('a reach of %d px is refused with the range', async (reach) => {
    await expectRefusal(() => numbersOf(QUAY, { reach }), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['reach', 'from 0 to 60 on this plate of 160 x 120', String(reach)],
    })
  })
  test.each([1, 61, 2.5, Number.NaN])('a surround of %d px is refused with the range', async (surround) => {
    await expectRefusal(() => numbersOf(QUAY, { surround }), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['surround', 'from 2 to 60 on this plate of 160 x 120', String(surround)],
    })
  })
})

describe('the candidates kept', () => {
  test('are what was asked for, else the default', () => {
    expect(keepOf(undefined)).toBe(KEEP)
    expect(keepOf(1)).toBe(1)
    expect(keepOf(500)).toBe(500)
  })
  test.each([0, -3, 2.5, Number.NaN])('%d is refused', async (keep) => {
    await expectRefusal(() => keepOf(keep), { code: 'MISUSE', exitCode: 2, says: ['keep', String(keep)] })
  })
})
