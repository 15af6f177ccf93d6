import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../../src/footage/plate.js'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { type CleanPlateFound, findCleanPlate } from '../../../src/search/hide/clean-plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Result } from '../../../src/search/result.js'
import { expectRefusal } from '../../refusal.js'
import { HEIGHT, plantPlate, WIDTH } from '../../synthetic.js'

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

test('nor has a mask that rides along', async () => {
  const rides = { ...result, region: { ...result.region, at: 1024 } }
  await expectRefusal(() => findCleanPlate(rides), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['`clean`', 'stands still in the frame', 'one drawn on frame 1024'],
  })
})
