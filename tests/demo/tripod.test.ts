// The quay from a panning tripod: the porter is planted, and so is where the camera looks.
import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { cleanTripodFrame, renderTripod, type TripodTruth, tripodAt } from '../../src/demo/tripod.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { apply, compose, invert } from '../../src/raster/transform.js'
import { loadMasks, type Mask } from '../../src/region/mask.js'
import { moveMask } from '../../src/region/move-mask.js'
import { findDonors } from '../../src/search/hide/find.js'
import { type MadeDemo, madeDemo } from './made.js'

let made: MadeDemo
let root: string
let truth: TripodTruth
let mask: Mask

beforeAll(async () => {
  made = await madeDemo('tripod', async (folder) => {
    await renderTripod(join(folder, 'footage'))
    return ''
  })
  root = join(made.folder, 'footage')
  truth = JSON.parse(await readFile(join(root, 'truth.json'), 'utf8'))
  mask = (await loadMasks(join(root, truth.hide.mask), truth.plate, [truth.hide.at])).get(truth.hide.at)!
}, 240_000)
afterAll(() => made?.remove())

test('the mask that was drawn on one frame covers the porter on all that are to be repaired', () => {
  const { width, height } = truth.plate
  const { first, last, at } = truth.hide
  for (const frame of [first, at, last]) {
    const with_ = cleanTripodFrame(frame, {})
    const without = cleanTripodFrame(frame)
    const laid = moveMask(mask, compose(tripodAt(frame), invert(tripodAt(at))), {
      x: 0,
      y: 0,
      w: width,
      h: height,
    })
    let changed = 0
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0; x < width; x++, i++) {
        const differs = Math.max(...[0, 1, 2].map((c) => Math.abs(with_[3 * i + c] - without[3 * i + c])))
        if (differs < 0.01) continue
        changed++
        const [u, v] = [x - laid.rect.x, y - laid.rect.y]
        const inside =
          u >= 0 && v >= 0 && u < laid.rect.w && v < laid.rect.h ? laid.data[v * laid.rect.w + u] : 0
        expect(inside, `frame ${frame}, pixel ${x}, ${y}`).toBeGreaterThan(0.5)
      }
    expect(changed).toBeGreaterThan(1000)
  }
})

test('the camera pans over eighty pixels and more, rolls and zooms', () => {
  const middle = { x: truth.plate.width / 2, y: truth.plate.height / 2 }
  const seen = truth.cameras.map(({ toFrame }) => {
    const back = invert(toFrame)
    const [a, b] = [apply(back, middle.x, middle.y), apply(back, middle.x + 1, middle.y)]
    return {
      x: a.x,
      roll: (180 / Math.PI) * Math.atan2(b.y - a.y, b.x - a.x),
      size: Math.hypot(b.x - a.x, b.y - a.y),
    }
  })
  const span = (of: (s: (typeof seen)[number]) => number) =>
    Math.max(...seen.map(of)) - Math.min(...seen.map(of))
  expect(span(({ x }) => x)).toBeGreaterThan(80)
  expect(span(({ roll }) => roll)).toBeGreaterThan(1)
  expect(span(({ size }) => size)).toBeGreaterThan(0.02)
})

test('the second take has another size, and is 0.6 stops darker where it shows the same wall', async () => {
  const take = await openPlate(join(root, truth.take.pattern))
  expect([take.width, take.height]).not.toEqual([truth.plate.width, truth.plate.height])
  expect(take.width).toBeGreaterThan(truth.plate.width)
  const plate = await openPlate(join(root, truth.plate.pattern))
  const frame = truth.plate.first
  // A plain patch of wall above the kiosk's roof, seen by both.
  const { toFrame } = truth.cameras[0]
  const here = { x: 252, y: 9 }
  const wide = apply(invert(toFrame), here.x + 8, here.y + 8)
  const there = apply(truth.take.toFrame, wide.x, wide.y)
  const green = async (of: typeof plate, number: number, x: number, y: number) => {
    const { data } = await readRect(of, number, { x: Math.round(x) - 8, y: Math.round(y) - 8, w: 17, h: 17 })
    let sum = 0
    for (let i = 1; i < data.length; i += 3) sum += data[i]
    return sum / (17 * 17)
  }
  const stops = Math.log2(
    (await green(take, take.first, there.x, there.y)) / (await green(plate, frame, here.x + 8, here.y + 8)),
  )
  const drift = truth.frames[0].exposureStops
  expect(stops + drift).toBeGreaterThan(-1)
  expect(stops + drift).toBeLessThan(-0.2)
})

test('donors from elsewhere in the pan are not doubted for how they are laid', async () => {
  const { candidates } = await findDonors({
    target: join(root, 'plate'),
    mask: join(root, truth.hide.mask),
    maskAt: truth.hide.at,
    frames: Array.from({ length: truth.hide.last - truth.hide.first + 1 }, (_, i) => truth.hide.first + i),
  })
  // What the frames before the porter and those after him differ by is no other side of the wall: it never changes.
  expect(candidates[0].shortfall).toBeLessThan(5)
}, 60_000)
