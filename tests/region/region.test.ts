import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import type { FeatherSide } from '../../src/defaults.js'
import { boxMask, type Mask } from '../../src/region/mask.js'
import { dilate, featheredAlpha, makeRegion } from '../../src/region/region.js'
import { expectRefusal } from '../refusal.js'
import { random } from '../synthetic.js'

const PLATE = { width: 160, height: 120 }
const NOTHING = { x: 0, y: 0, w: 0, h: 0 }
const NONE = new Float32Array(0)

function region(x: number, y: number, w: number, h: number, surround = 10) {
  return makeRegion(new Map([[1, boxMask({ x, y, w, h }, PLATE)]]), PLATE, surround)
}

describe('the surround', () => {
  test('is a ring as wide as asked for, apart from the mask, and never inside it', () => {
    const { window, frames } = region(60, 40, 20, 30, 10)
    const { inside, surround } = frames.get(1)!
    for (let y = 0, i = 0; y < window.h; y++) {
      for (let x = 0; x < window.w; x++, i++) {
        // Distance from the box in whole pixels, larger of the two directions.
        const away = Math.max(
          60 - (x + window.x),
          x + window.x - 79,
          40 - (y + window.y),
          y + window.y - 69,
          0,
        )
        expect(inside[i]).toBe(away === 0 ? 1 : 0)
        if (surround[i] === 1) expect(away).toBeGreaterThan(0)
      }
    }
    const counted = surround.reduce((n, v) => n + v, 0)
    // The ring between the guard of 2 px and 12 px round a 20 x 30 box.
    expect(counted).toBe(44 * 54 - 24 * 34)
  })

  test('lies on three sides only where the mask touches the frame, and that is said', () => {
    const { window, notes, frames } = region(0, 40, 20, 30)
    expect(window.x).toBe(0)
    expect(notes).toHaveLength(1)
    expect(notes[0]).toContain('left of the frame')
    const { surround } = frames.get(1)!
    const column = (x: number) => Array.from({ length: window.h }, (_, y) => surround[y * window.w + x])
    expect(column(25).includes(1)).toBe(true)
    expect(column(window.w - 1).every((v) => v === 1)).toBe(true)
  })

  test.each([
    { box: [150, 110, 10, 10], sides: 'right and bottom' },
    { box: [0, 0, 30, 10], sides: 'left and top' },
    { box: [0, 50, 160, 20], sides: 'left and right' },
  ] as const)('of a mask at the $sides says so', ({ box, sides }) => {
    const [x, y, w, h] = box
    expect(region(x, y, w, h).notes.join()).toContain(sides)
  })

  test('of a mask at all sides says that nothing is left beside it', () => {
    const rect = { x: 0, y: 0, w: 160, h: 120 }
    const frame = new Float32Array(160 * 120).fill(1)
    for (let y = 30; y < 90; y++) frame.fill(0, y * 160 + 40, y * 160 + 120)
    const { notes } = makeRegion(new Map([[1, { rect, data: frame }]]), PLATE, 12)
    expect(notes.join()).toContain('touches all sides of the frame: there is nothing beside it')
  })

  test('of a mask that is nowhere white says how much the plate shows through', () => {
    const grey = boxMask({ x: 60, y: 40, w: 20, h: 30 }, PLATE)
    grey.data.fill(31 / 255)
    const { notes } = makeRegion(new Map([[1, grey]]), PLATE, 12)
    expect(notes).toHaveLength(1)
    expect(notes[0]).toContain('no whiter than 12 %')
  })

  test('of a mask clear of the frame’s edge needs no remark', () => {
    expect(region(60, 40, 20, 30).notes).toEqual([])
  })

  test('of a mask that covers everything is refused with the plate’s size and what to do', async () => {
    await expectRefusal(() => region(0, 0, 160, 120), {
      code: 'REGION_WHOLE',
      exitCode: 2,
      says: ['frame 1', '0 pixels', '160 x 120', 'mask smaller'],
    }).then(({ message }) => expect(message).not.toContain('wider'))
  })

  test('of a mask that leaves too narrow a surround is refused with both ways out', async () => {
    // A ring of 9 x 9 less 5 x 5 pixels.
    const dot = new Map([[1, boxMask({ x: 80, y: 60, w: 1, h: 1 }, PLATE)]])
    await expectRefusal(() => makeRegion(dot, PLATE, 2), {
      code: 'REGION_WHOLE',
      exitCode: 2,
      says: ['56 pixels', 'mask smaller', '`surround` (2) wider'],
    })
  })
})

describe('masks that move', () => {
  test('share one window, each with its own weights in it', () => {
    const masks = new Map<number, Mask>([
      [1, boxMask({ x: 40, y: 40, w: 10, h: 10 }, PLATE)],
      [2, boxMask({ x: 70, y: 50, w: 10, h: 10 }, PLATE)],
    ])
    const { box, window, frames } = makeRegion(masks, PLATE, 8)
    expect(box).toEqual({ x: 40, y: 40, w: 40, h: 20 })
    const at = (frame: number, x: number, y: number) =>
      frames.get(frame)!.inside[(y - window.y) * window.w + x - window.x]
    expect([at(1, 45, 45), at(2, 45, 45), at(1, 75, 55), at(2, 75, 55)]).toEqual([1, 0, 0, 1])
  })
})

test('a frame whose mask is black is passed over and named; the others are a region as if it were not there', () => {
  const [white, black] = [boxMask({ x: 40, y: 40, w: 10, h: 10 }, PLATE), { rect: NOTHING, data: NONE }]
  const masks = (...of: Mask[]) => new Map(of.map((mask, i) => [1001 + i, mask]))
  const { frames, empty, notes, box, window } = makeRegion(masks(white, black, white, black), PLATE, 8)
  expect([...frames.keys()]).toEqual([1001, 1003])
  expect(empty).toEqual([1002, 1004])
  expect(notes).toEqual([expect.stringContaining('black on frames 1002, 1004')])
  const alone = makeRegion(masks(white), PLATE, 8)
  expect({ box, window }).toEqual({ box: alone.box, window: alone.window })
  expect(frames.get(1003)).toEqual(alone.frames.get(1001))
})

describe('a feathered patch', () => {
  test('fades inside the mask, outside it or half on either side, in even steps', () => {
    const width = 21
    const inside = Float32Array.from({ length: width * width }, (_, i) => (i % width >= 10 ? 1 : 0))
    const row = (side: FeatherSide) => [...featheredAlpha(inside, width, 3, side).subarray(6, 15)]
    expect(row('outside')).toEqual([0, 0.25, 0.5, 0.75, 1, 1, 1, 1, 1])
    expect(row('inside')).toEqual([0, 0, 0, 0, 0.25, 0.5, 0.75, 1, 1])
    expect(row('both')).toEqual([0, 0.125, 0.25, 0.375, 0.625, 0.75, 0.875, 1, 1])
  })

  test.each(['inside', 'both'] as const)('%s leaves what is covered in part covered by no more', (side) => {
    const soft = Float32Array.from({ length: 400 }, (_, i) => Math.max(0, Math.min(1, ((i % 20) - 6) / 5)))
    const alpha = featheredAlpha(soft, 20, 4, side)
    for (let i = 0; i < soft.length; i++) if (soft[i] >= 0.5) expect(alpha[i]).toBeLessThanOrEqual(soft[i])
  })

  const width = 41
  const inside = new Float32Array(width * width)
  for (let y = 15; y < 26; y++) for (let x = 15; x < 26; x++) inside[y * width + x] = 1

  test('falls in a straight line from the mask’s edge to nothing, outwards', () => {
    const alpha = featheredAlpha(inside, width, 4)
    const line = [...alpha.subarray(20 * width + 20, 20 * width + 33)]
    const wanted = [1, 1, 1, 1, 1, 1, 0.8, 0.6, 0.4, 0.2, 0, 0, 0]
    for (const [i, v] of line.entries()) expect(v).toBeCloseTo(wanted[i], 6)
  })

  test('of width 0 is the mask itself', () => {
    expect(featheredAlpha(inside, width, 0)).toEqual(inside)
  })

  test('never covers less than the mask, stays within 0 to 1, and leaves the mask as it was', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 9 }), fc.integer(), (feather, start) => {
        const even = random(start)
        const soft = Float32Array.from({ length: 20 * 17 }, () => Math.max(0, even() * 3 - 2))
        const before = soft.slice()
        const alpha = featheredAlpha(soft, 20, feather)
        for (let i = 0; i < alpha.length; i++) {
          expect(alpha[i]).toBeGreaterThanOrEqual(soft[i])
          expect(alpha[i]).toBeLessThanOrEqual(1)
        }
        expect(soft).toEqual(before)
      }),
      { seed: 6, numRuns: 40 },
    )
  })
})

test('widening a mask sets what any of its pixels reaches, at every size down to one pixel', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 12 }),
      fc.integer({ min: 1, max: 12 }),
      fc.integer({ min: 0, max: 5 }),
      fc.integer(),
      (w, h, radius, start) => {
        const even = random(start)
        const bits = Uint8Array.from({ length: w * h }, () => (even() < 0.1 ? 1 : 0))
        const out = dilate(bits, w, h, radius)
        for (let y = 0; y < h; y++) {
          for (let x = 0; x < w; x++) {
            let any = 0
            for (let v = Math.max(0, y - radius); v <= Math.min(h - 1, y + radius); v++)
              for (let u = Math.max(0, x - radius); u <= Math.min(w - 1, x + radius); u++)
                any |= bits[v * w + u]
            expect(out[y * w + x]).toBe(any)
          }
        }
      },
    ),
    { seed: 7, numRuns: 200 },
  )
})

test('the weights of a mask that wanders are those of the mask by itself, wherever it lies in the window', () => {
  const next = random(5)
  const masks = new Map(
    Array.from({ length: 12 }, (_, i) => {
      const [w, h] = [1 + Math.floor(next() * 30), 1 + Math.floor(next() * 30)]
      const rect = { x: Math.floor(next() * (160 - w)), y: Math.floor(next() * (120 - h)), w, h }
      const data = Float32Array.from({ length: w * h }, () => (next() < 0.3 ? 0 : next()))
      return [1001 + i, { rect, data }] as const
    }),
  )
  const { window, frames } = makeRegion(masks, PLATE, 6)
  const wrong: unknown[] = []
  for (const [frame, { rect, data }] of masks) {
    const { inside, surround } = frames.get(frame)!
    const at = (x: number, y: number) => {
      const [u, v] = [x - rect.x, y - rect.y]
      return u >= 0 && v >= 0 && u < rect.w && v < rect.h ? data[v * rect.w + u] : 0
    }
    const covers = (x: number, y: number, reach: number) => {
      for (let v = y - reach; v <= y + reach; v++)
        for (let u = x - reach; u <= x + reach; u++) if (at(u, v) > 0) return true
      return false
    }
    for (let y = 0, i = 0; y < window.h; y++)
      for (let x = 0; x < window.w; x++, i++) {
        const [px, py] = [x + window.x, y + window.y]
        const ring = covers(px, py, 8) && !covers(px, py, 2) ? 1 : 0
        if (inside[i] !== at(px, py) || surround[i] !== ring) wrong.push([frame, x, y])
      }
  }
  expect(wrong).toEqual([])
})
