// Hunting on another surface. Planted truth: a wall whose right half repeats its left half, so far off to a fraction of a
// pixel.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openFootage } from '../../../src/footage/active.js'
import type { Plate } from '../../../src/footage/plate.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import type { Rect } from '../../../src/raster/rect.js'
import { boxMask } from '../../../src/region/mask.js'
import { makeRegion } from '../../../src/region/region.js'
import { type Look, lookOf, refineCarry } from '../../../src/search/borrow/look-in.js'
import { expectRefusal } from '../../refusal.js'
import { boxOf, plantMask, texturedWall } from '../../synthetic.js'
import { plantShade } from '../shaded.js'

const APART = { dx: 70.4, dy: 2.7 }
const REACH = 6
const SURROUND = 8
/** On the right half, and where its twin lies on the left; the boxes are a few pixels off each other. */
const BOX = { x: 96, y: 42, w: 36, h: 34 }
const TWIN = { x: 24, y: 38, w: 36, h: 34 }

const left = texturedWall(3)
const wall = (x: number, y: number) => (x < 80 ? left(x, y) : left(x - APART.dx, y - APART.dy))
const workspace = new Workspace()

let folder: string
let plate: Plate
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-look-'))
  const planted = await plantShade(join(folder, 'twins'), { frames: 2, wall })
  plate = await openFootage(planted.folder)
})
afterAll(() => rmSync(folder, { recursive: true }))

const regionOf = (boxes: readonly Rect[]) =>
  makeRegion(new Map(boxes.map((b, i) => [1001 + i, boxMask(b, plate)])), plate, SURROUND)
const look = (options: { lookIn?: string | Rect; offset?: { dx: number; dy: number } }, boxes = [BOX, BOX]) =>
  lookOf(regionOf(boxes), plate, SURROUND, { maskFit: 'same', ...options })

describe('where moments are hunted', () => {
  test('is the region itself: of a mask that moves, all of it on every frame', async () => {
    const there = await look({}, [BOX, { ...BOX, x: BOX.x - 10, y: BOX.y + 5 }])
    expect(there.region.box).toEqual({ x: BOX.x - 10, y: BOX.y, w: BOX.w + 10, h: BOX.h + 5 })
    expect([...there.region.frames.keys()]).toEqual([1001, 1002])
    expect(there.region.frames.get(1001)).toBe(there.region.frames.get(1002))
    expect(there).toMatchObject({ carry: { dx: 0, dy: 0 }, box: null, refine: false })
  })

  test('with an offset by hand is where what is borrowed comes from', async () => {
    const offset = { dx: 70.4, dy: 3 }
    const there = await look({ offset })
    expect(there.region.box).toEqual({ x: BOX.x - 70, y: BOX.y - 3, w: BOX.w, h: BOX.h })
    expect(there).toMatchObject({ carry: offset, box: there.region.box, refine: false })
  })

  test('partly beyond the frame is what of it lies inside', async () => {
    const there = await look({ offset: { dx: 110, dy: 0 } })
    expect(there.region.box).toEqual({ x: 0, y: BOX.y, w: BOX.w - 14, h: BOX.h })
  })

  test('in another box is carried middle onto middle in whole pixels, and may be refined', async () => {
    const there = await look({ lookIn: { ...TWIN, w: 35 } })
    expect(there).toMatchObject({ carry: { dx: 73, dy: 4 }, box: { ...TWIN, w: 35 }, refine: true })
  })

  test('in another mask is that mask', async () => {
    const mask = join(folder, 'twin.png')
    await plantMask(mask, boxOf(TWIN.x, TWIN.y, TWIN.w, TWIN.h))
    expect((await look({ lookIn: mask })).region.box).toEqual(TWIN)
  })

  test('with an offset and another box is carried by the offset as it stands', async () => {
    const offset = { dx: 71.25, dy: 2 }
    expect(await look({ lookIn: TWIN, offset })).toMatchObject({ carry: offset, box: TWIN, refine: false })
  })

  const beyond = [
    { offset: { dx: 400, dy: 0 }, says: ['400,0', '160 x 120'] },
    // The window's surround is still inside, the region is not.
    { offset: { dx: BOX.x + BOX.w + 2, dy: 0 }, says: ['none of it'] },
  ]
  test.each(beyond)('is refused beyond the frame: $says', async ({ offset, says }) => {
    await expectRefusal(() => look({ offset }), { code: 'MISUSE', exitCode: 2, says: ['offset', ...says] })
  })
})

describe('the carry of another surface', () => {
  /** log2 luminance of the searched surface, over its window. */
  const level = ({ region: { window } }: Look, surface: (x: number, y: number) => number) =>
    Float32Array.from({ length: window.w * window.h }, (_, i) =>
      Math.log2(surface(window.x + (i % window.w), window.y + Math.floor(i / window.w))),
    )
  const refined = async (surface = wall, pose = { dx: 0, dy: 0 }) => {
    const there = await look({ lookIn: TWIN })
    const options = { reachPx: REACH, clip: plate.clipLevel }
    return refineCarry(
      workspace,
      there,
      regionOf([BOX, BOX]),
      level(there, surface),
      plate,
      1001,
      pose,
      options,
    )
  }

  test('is refined to a tenth of a pixel where both show the same structure', async () => {
    const { carry, refined: isRefined } = await refined()
    expect(isRefined).toBe(true)
    expect(Math.abs(carry.dx - APART.dx)).toBeLessThan(0.1)
    expect(Math.abs(carry.dy - APART.dy)).toBeLessThan(0.1)
  })

  test('has the pose of the frame on top, on which the surfaces were compared', async () => {
    const still = await refined()
    const moved = await refined(wall, { dx: 1.5, dy: -0.75 })
    expect(moved.carry.dx).toBeCloseTo(still.carry.dx + 1.5, 6)
    expect(moved.carry.dy).toBeCloseTo(still.carry.dy - 0.75, 6)
  })

  test('stays middle on middle where they share none', async () => {
    const there = await look({ lookIn: TWIN })
    expect(await refined(texturedWall(77))).toEqual({ carry: there.carry, refined: false })
    expect(await refined(() => 0.3)).toEqual({ carry: there.carry, refined: false })
  })
})
