import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../../src/footage/plate.js'
import { shift } from '../../../src/raster/transform.js'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { type CleanPlateFound, findCleanPlate } from '../../../src/search/hide/clean-plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Result } from '../../../src/search/result.js'
import { type Moving, plantMoving } from '../../moving.js'
import { expectRefusal } from '../../refusal.js'
import { roughWall } from '../../rough-wall.js'
import { boxOf, HEIGHT, plantMask, plantPlate, WIDTH } from '../../synthetic.js'

// Truth is planted: the same plate without the porters, with other grain.

const BOX = { x: 60, y: 40, w: 32, h: 36 }
const FRAMES = 48
const NOISE = 0.01
/** A porter crosses early; another comes at 1024 and stands there for nine frames. */
const porters = (i: number) => {
  const light = 0.05
  if (i >= 6 && i <= 12) return [{ x: 30 + 12 * (i - 6), y: 30, w: 18, h: 60, light }]
  if (i >= 22 && i <= 32) return [{ x: i === 22 ? 90 : i === 32 ? 50 : 68, y: 30, w: 18, h: 60, light }]
  return []
}
const stops = (i: number) => 0.15 * Math.sin(i / 7)

let folder: string
let result: Result
let found: CleanPlateFound
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-clean-'))
  const base = { frames: FRAMES, stops, noise: NOISE }
  await plantPlate(join(folder, 'plate'), { ...base, occluders: porters, start: 1 })
  await plantPlate(join(folder, 'empty'), { ...base, start: 777 })
  result = await findDonors({ target: join(folder, 'plate'), frames: '1023-1033', box: BOX })
  found = await findCleanPlate(result)
}, 120_000)
afterAll(() => rmSync(folder, { recursive: true }))

describe('the clean plate of a region before which porters pass', { timeout: 60_000 }, () => {
  test('has every frame of the plate, each from a donor on which nobody stands there', () => {
    expect(found.unfilled).toEqual([])
    expect(found.candidate.frames.map((f) => f.target)).toEqual(
      Array.from({ length: FRAMES }, (_, i) => 1001 + i),
    )
    for (const { donor, target } of found.candidate.frames) {
      expect(donor).not.toBe(target)
      for (const { x, w } of porters(donor - 1001)) expect(x + w <= BOX.x || x >= BOX.x + BOX.w).toBe(true)
    }
  })

  test('differs from the planted one by grain alone, in the light of each frame', async () => {
    const job = await openRepair(found.result)
    const empty = await openPlate(join(folder, 'empty'))
    const errors: number[] = []
    const pass = new HidePass(job, found.candidate, { addGrain: false })
    for (const match of found.candidate.frames) {
      const { patch, rect, mask } = await pass.repair(match)
      const truth = await readRect(empty, match.target, rect)
      let [square, n] = [0, 0]
      for (let p = 0; p < mask.length; p++) {
        if (mask[p] === 0) continue
        square += (patch.data[3 * p + 1] / truth.data[3 * p + 1] - 1) ** 2
        n++
      }
      errors.push(Math.sqrt(square / n))
    }
    job.close()
    // Two frames' grain, each a hundredth of the light, makes 0.0141; that of a mean of donors and a frame less.
    for (const error of errors) expect(error).toBeLessThan(1.5 * Math.SQRT2 * NOISE)
  })
})

test('a frame of which a slate hides everything is filled by none, and named; those round it are filled', async () => {
  const plate = join(folder, 'slate')
  await plantPlate(plate, {
    frames: 22,
    occluders: (i) => {
      if (i === 15) return [{ x: 0, y: 0, w: WIDTH, h: HEIGHT, light: 0.3 }]
      return i === 4 ? [{ x: 66, y: 30, w: 18, h: 60, light: 0.05 }] : []
    },
  })
  const { unfilled, candidate } = await findCleanPlate(
    await findDonors({ target: plate, frames: '1005', box: BOX, reach: 8 }),
  )
  expect(unfilled).toEqual([1016])
  expect(candidate.frames).toHaveLength(21)
  expect(candidate.why).toMatch(/^21 of 22 frames of the plate; the worst on /)
}, 60_000)

test('a result that borrows has none', async () => {
  await expectRefusal(() => findCleanPlate({ ...result, aim: 'borrow' }), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['`clean`', 'a result of the aim hide', 'borrow'],
  })
})

describe('under a camera that pans, a mask that was drawn on one frame', { timeout: 120_000 }, () => {
  const AT = 1013
  const FRAMES_PANNED = 28
  /** Somebody who stands on the wall before 1010 to 1015, and the mask round them on frame AT. */
  const stands = { x: 150, y: 80, w: 28, h: 24 }
  const box = { x: 146, y: 76, w: 36, h: 32 }
  const isHidden = (index: number) => index >= 9 && index <= 14
  /** At first the place lies beyond the right edge of the frame. */
  const offset = (index: number) => 9 * (AT - 1001 - index)
  let plate: Moving
  let rides: Result
  let filled: CleanPlateFound
  beforeAll(async () => {
    plate = await plantMoving(join(folder, 'panned'), {
      frames: FRAMES_PANNED,
      toFrame: (i) => shift(offset(i), 0),
      occluder: { ...stands, on: isHidden },
    })
    rides = await findDonors({ target: plate.folder, frames: '1010-1015', box, maskAt: AT })
    filled = await findCleanPlate(rides)
  }, 240_000)

  /** Of the mask's columns, how many lie in the frame. */
  const columnsSeen = (frame: number) => {
    const left = box.x + offset(frame - 1001)
    return Math.max(0, Math.min(240, left + box.w) - Math.max(0, left))
  }

  test('lies on the scenery on all frames that see it, and where none of it is seen there is nothing to fill', () => {
    const seen = plate.frames.filter((f) => columnsSeen(f) > 0)
    const whole = seen.filter((f) => columnsSeen(f) === box.w)
    const targets = filled.candidate.frames.map((f) => f.target)
    expect(filled.result.region.empty).toEqual(plate.frames.filter((f) => columnsSeen(f) === 0))
    expect([...targets, ...filled.unfilled].sort()).toEqual(seen)
    expect(whole.filter((f) => !targets.includes(f))).toEqual([])
    expect(seen.length).toBeGreaterThan(20)
    expect(seen.length).toBeLessThan(FRAMES_PANNED)
  })

  test('is filled with the wall, wherever the frame shows it', async () => {
    const job = await openRepair(filled.result)
    const pass = new HidePass(job, filled.candidate, { addGrain: false })
    let pixels = 0
    for (const match of filled.candidate.frames) {
      const { rect, alpha, patch, mask } = await pass.repair(match)
      const right = offset(match.target - 1001)
      let [square, n] = [0, 0]
      for (let i = 0; i < alpha.length; i++) {
        // Placed to a fraction of a pixel it covers its outermost pixels in part.
        if (mask[i] < 0.5 || alpha[i] === 0) continue
        const wall = 2 ** roughWall(rect.x + (i % rect.w) - right, rect.y + Math.floor(i / rect.w))
        square += (patch.data[3 * i + 1] / wall - 1) ** 2
        n++
      }
      expect(n).toBe(columnsSeen(match.target) * box.h)
      // Grain is a hundredth of the light; half again for what resampling does to a rough wall.
      expect(Math.sqrt(square / n)).toBeLessThan(0.015)
      pixels += n
    }
    job.close()
    expect(pixels).toBeGreaterThan(20 * box.w * box.h)
  })
})

test('under a camera that stands, a mask that was drawn on one frame is the mask of all', async () => {
  const asDrawn = { ...result, region: { ...result.region, at: 1024 } }
  const again = await findCleanPlate(asDrawn)
  expect(again.unfilled).toEqual([])
  expect(again.candidate.frames.map((f) => f.target)).toHaveLength(FRAMES)
}, 120_000)

test('a mask sequence that lacks frames of the plate is refused, with what a clean plate needs', async () => {
  const masks = join(folder, 'some-masks')
  mkdirSync(masks)
  for (const f of [1023, 1024])
    await plantMask(join(masks, `mask.${f}.png`), boxOf(BOX.x, BOX.y, BOX.w, BOX.h))
  const few = await findDonors({ target: join(folder, 'plate'), frames: '1023-1024', mask: masks })
  await expect(findCleanPlate(few)).rejects.toMatchObject({
    code: 'MASK_FRAME_MISSING',
    exitCode: 2,
    message: expect.stringMatching(
      /^`clean` needs a mask on every frame of .* \(1001-10\d\d\), and .*some-masks has none on some: supply those that are missing, or run find with one still mask/,
    ),
  })
})

test('frames on which the mask is black have nothing to fill, be they as many as they like', async () => {
  const masks = join(folder, 'masks')
  mkdirSync(masks)
  const [x, y, w, h] = [BOX.x, BOX.y, BOX.w, BOX.h]
  for (let f = 1001; f < 1001 + FRAMES; f++) {
    const white = f >= 1020 && f <= 1036 ? boxOf(x, y, w, h) : () => 0
    await plantMask(join(masks, `mask.${f}.png`), white)
  }
  const asked = { target: join(folder, 'plate'), frames: '1023-1033', mask: masks }
  const { candidate, unfilled, result: whole } = await findCleanPlate(await findDonors(asked))
  expect(unfilled).toEqual([])
  expect(candidate.frames.map((f) => f.target)).toEqual(Array.from({ length: 17 }, (_, i) => 1020 + i))
  expect(whole.region.empty).toHaveLength(FRAMES - 17)
}, 120_000)
