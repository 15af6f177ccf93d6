// Planted truth: a plate with white grain of its own on every frame, repaired from one held frame, with grain and without.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { finishWarnings } from '../../src/repair/hand-over/finish-warnings.js'
import type { PatchFrame } from '../../src/repair/hand-over/patch.js'
import { type Finish, FinishMeter } from '../../src/repair/hide/finish.js'
import { HidePass } from '../../src/repair/hide/hide-pass.js'
import { plateGrain } from '../../src/repair/hide/plate-grain.js'
import { openRepair, type RepairJob } from '../../src/repair/repair.js'
import type { Candidate } from '../../src/search/result.js'
import { plantPlate } from '../synthetic.js'
import { resultFor } from './job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-finish-'))
afterAll(() => rmSync(folder, { recursive: true }))

let job: RepairJob
let held: Candidate
let run: Candidate
beforeAll(async () => {
  const plate = await plantPlate(folder, { frames: 24, noise: 0.03 })
  const lend = (donor: (target: number) => number) =>
    resultFor(
      plate.folder,
      [1003, 1004, 1005, 1006].map((target) => ({ target, donor: donor(target) })),
      { frames: 24 },
    )
  const hold = lend(() => 1015)
  held = hold.candidate
  run = lend((target) => target + 12).candidate
  job = await openRepair(hold.result)
}, 60_000)

async function finishes(candidate: Candidate, addGrain: boolean): Promise<Finish[]> {
  const pass = new HidePass(job, candidate, { addGrain })
  const meter = new FinishMeter(await plateGrain(job))
  const all: Finish[] = []
  for (const match of candidate.frames) all.push(meter.of(match, await pass.repair(match)))
  return all
}

describe('a patch from a held frame', () => {
  test('without grain stands still, and that is said with its frames', async () => {
    const all = await finishes(held, false)
    expect(all.map((f) => f.change)).toEqual([null, 0, 0, 0])
    const frames = all.map((check, i) => ({ target: 1003 + i, file: '', lent: [], check }) as PatchFrame)
    expect(finishWarnings(frames)).toEqual([
      'on frames 1004-1006 the patch stands stiller than the plate does there (0.00 on 1004, 0.9 to 1.1 is meant)',
    ])
  })

  test('with grain changes as the plate does', async () => {
    for (const { change } of (await finishes(held, true)).slice(1)) {
      expect(change).toBeGreaterThan(0.85)
      expect(change).toBeLessThan(1.15)
    }
  })
})

test('a patch from a run has the plate’s own grain: nothing is added, and nothing is to be said', async () => {
  for (const { detail, change } of await finishes(run, true)) {
    expect(detail).toBeNull()
    if (change !== null) expect(Math.abs(change - 1)).toBeLessThan(0.12)
  }
})
