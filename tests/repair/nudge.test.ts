import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../src/footage/plate.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { nudged } from '../../src/repair/nudge.js'
import { openRepair } from '../../src/repair/repair.js'
import type { Candidate } from '../../src/search/result.js'
import { expectRefusal } from '../refusal.js'
import { plantPlate, texturedWall } from '../synthetic.js'
import { resultFor } from './job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-nudge-'))
afterAll(() => rmSync(folder, { recursive: true }))

/** Planted truth: the donor's wall lies (2.5, -1.25) px off, and alignment is said to have found (2, -1). */
const plant = () =>
  plantPlate(join(folder, 'off'), {
    frames: 2,
    noise: 0,
    wall: texturedWall(8, 10),
    sway: (i) => (i === 0 ? [0, 0] : [-2.5, 1.25]),
    occluders: (i) => (i === 0 ? [{ x: 62, y: 41, w: 20, h: 25, light: 0.02 }] : []),
  })

test('a donor that lies half a pixel off is put right by hand, and only so', async () => {
  const plate = await plant()
  const { result, candidate } = resultFor(plate.folder, [{ target: 1001, donor: 1002, dx: 2, dy: -1 }], {
    frames: 2,
  })
  const job = await openRepair(result)
  const truth = plate.clean(1001)
  const worstOf = async (candidate: Candidate) => {
    const { rect, repaired } = await repairFrame(job, candidate, candidate.frames[0], { addGrain: false })
    let worst = 0
    for (let y = 0, k = 0; y < rect.h; y++)
      for (let x = 0; x < rect.w; x++, k++) {
        const t = truth[3 * ((y + rect.y) * 160 + x + rect.x)]
        worst = Math.max(worst, Math.abs(repaired.data[3 * k] - t) / t)
      }
    return worst
  }
  expect(await worstOf(candidate)).toBeGreaterThan(0.05)
  const right = nudged(candidate, { dx: 0.5, dy: -0.25 }, job.target)
  expect(await worstOf(right)).toBeLessThan(0.01)
  expect(candidate.frames[0]).toMatchObject({ dx: 2, dy: -1 })
})

test('all shares of a stack are moved with it, and it keeps less of its grain between pixels', async () => {
  const plate = await openPlate((await plant()).folder)
  const { candidate } = resultFor(plate.folder, [{ target: 1001, donor: 1002, dx: 2, dy: -1 }])
  const share = { plate: 0, gain: [1, 1, 1] as [number, number, number], weight: 0.5 }
  const stack = [
    { ...share, frame: 1002, dx: 2, dy: -1 },
    { ...share, frame: 1003, dx: -4, dy: 3 },
  ]
  const stacked = { ...candidate, frames: [{ ...candidate.frames[0], stack }] }
  const moved = nudged(stacked, { dx: 0.5, dy: 0 }, plate)
  expect(moved.frames[0]).toMatchObject({
    dx: 2.5,
    dy: -1,
    stack: [
      { dx: 2.5, dy: -1 },
      { dx: -3.5, dy: 3 },
    ],
  })
  // Keys 1981 half between pixels: weights -1/16, 9/16, 9/16, -1/16, whose squares add up to 164/256.
  expect(moved.grain).toBeCloseTo(Math.sqrt(164 / 256), 6)
  expect(nudged(stacked, { dx: 3, dy: -7 }, plate).grain).toBeCloseTo(1, 9)
})

test.each([
  [61, 0],
  [0, -60.5],
  [Number.NaN, 0],
  [Number.POSITIVE_INFINITY, 0],
])('by %s, %s is refused with what the plate allows', async (dx, dy) => {
  const plate = await openPlate((await plant()).folder)
  const { candidate } = resultFor(plate.folder, [{ target: 1001, donor: 1002 }])
  await expectRefusal(() => Promise.resolve().then(() => nudged(candidate, { dx, dy }, plate)), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['`nudge`', 'from -60 to 60', '160 x 120', `${dx},${dy}`],
  })
  expect(nudged(candidate, { dx: 60, dy: -60 }, plate).frames[0]).toMatchObject({ dx: 60, dy: -60 })
})
