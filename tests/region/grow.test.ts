import fc from 'fast-check'
import { expect, test } from 'vitest'
import { grownMasks } from '../../src/region/grow.js'
import { boxMask, type Mask } from '../../src/region/mask.js'
import { expectRefusal } from '../refusal.js'
import { random } from '../synthetic.js'

const PLATE = { width: 40, height: 30 }
const grown = (mask: Mask, px: number) => grownMasks(new Map([[1, mask]]), px, PLATE).get(1)!
/** A mask's weight at a plate pixel. */
const at = ({ rect, data }: Mask, x: number, y: number) =>
  x < rect.x || y < rect.y || x >= rect.x + rect.w || y >= rect.y + rect.h
    ? 0
    : data[(y - rect.y) * rect.w + x - rect.x]

/** The straight version: the largest or least weight within the radius, of what lies on the plate. */
function reference(mask: Mask, px: number, x: number, y: number): number {
  const radius = Math.abs(px)
  let found = px > 0 ? 0 : 1
  for (let v = Math.max(0, y - radius); v <= Math.min(PLATE.height - 1, y + radius); v++)
    for (let u = Math.max(0, x - radius); u <= Math.min(PLATE.width - 1, x + radius); u++) {
      if ((u - x) ** 2 + (v - y) ** 2 > radius * radius) continue
      found = px > 0 ? Math.max(found, at(mask, u, v)) : Math.min(found, at(mask, u, v))
    }
  return found
}

test('every pixel has the largest weight within the disk, or the least where the mask is shrunk', () => {
  fc.assert(
    fc.property(
      fc.record({
        x: fc.integer({ min: 0, max: 30 }),
        y: fc.integer({ min: 0, max: 22 }),
        w: fc.integer({ min: 1, max: 10 }),
        h: fc.integer({ min: 1, max: 8 }),
        px: fc.integer({ min: -7, max: 7 }).filter((px) => px !== 0),
        seed: fc.integer({ min: 0, max: 999 }),
      }),
      ({ x, y, w, h, px, seed }) => {
        const even = random(seed)
        // Holes, whole and partial weights.
        const data = Float32Array.from({ length: w * h }, () =>
          even() < 0.3 ? 0 : even() < 0.5 ? 1 : even(),
        )
        const mask = { rect: { x, y, w, h }, data }
        // Where nothing would be left it is refused, which is another test.
        let out: Mask
        try {
          out = grown(mask, px)
        } catch {
          for (let v = 0; v < PLATE.height; v++)
            for (let u = 0; u < PLATE.width; u++) expect(reference(mask, px, u, v)).toBe(0)
          return
        }
        for (let v = 0; v < PLATE.height; v++)
          for (let u = 0; u < PLATE.width; u++)
            expect(at(out, u, v)).toBeCloseTo(reference(mask, px, u, v), 6)
      },
    ),
    { numRuns: 60 },
  )
})

test('a box grows round at its corners, and what was grown and then shrunk by the same is the box again', () => {
  const box = boxMask({ x: 12, y: 10, w: 9, h: 7 }, PLATE)
  const out = grown(box, 4)
  expect(out.rect).toEqual({ x: 8, y: 6, w: 17, h: 15 })
  expect(at(out, 8, 13)).toBe(1)
  expect(at(out, 8, 6)).toBe(0)
  expect(grown(out, -4)).toEqual(box)
})

test('a shape that runs off the frame is shrunk on its other sides only', () => {
  const out = grown(boxMask({ x: 0, y: 10, w: 12, h: 20 }, PLATE), -3)
  expect(out.rect).toEqual({ x: 0, y: 13, w: 9, h: 17 })
})

test('frames that share a mask go on sharing it; not grown it is the same object; the mask itself is not touched', () => {
  const box = boxMask({ x: 12, y: 10, w: 9, h: 7 }, PLATE)
  const before = box.data.slice()
  const masks = new Map([1, 2].map((f) => [f, box]))
  const out = grownMasks(masks, 2, PLATE)
  expect(out.get(1)).toBe(out.get(2))
  expect(box.data).toEqual(before)
  for (const none of [0, undefined]) expect(grownMasks(masks, none, PLATE)).toBe(masks)
})

test('a mask that is shrunk to nothing on some frames is black there, on all of them it is refused', async () => {
  const thin = boxMask({ x: 12, y: 10, w: 9, h: 3 }, PLATE)
  const thick = boxMask({ x: 12, y: 10, w: 9, h: 9 }, PLATE)
  const masks = new Map([
    [1, thin],
    [2, thick],
  ])
  expect(grownMasks(masks, -2, PLATE).get(1)!.rect).toEqual({ x: 0, y: 0, w: 0, h: 0 })
  await expectRefusal(() => grown(thin, -2), { code: 'MASK_EMPTY', exitCode: 2, says: ['`grow` -2', 'less'] })
})

test.each([16, -16, 1.5, Number.NaN])('by %s px is refused with what the plate allows', async (px) => {
  await expectRefusal(() => grown(boxMask({ x: 12, y: 10, w: 9, h: 7 }, PLATE), px), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['`grow`', 'from -15 to 15', '40 x 30', String(px)],
  })
})
