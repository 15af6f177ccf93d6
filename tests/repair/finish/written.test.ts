// Planted truth: a plate with white grain of its own on every frame, repaired from one held frame, with grain and without.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { PatchFinish } from '../../../src/repair/finish/finish.js'
import { FinishMeter } from '../../../src/repair/finish/meter.js'
import { faultsOf } from '../../../src/repair/finish/words.js'
import { describePatch } from '../../../src/repair/hand-over/describe.js'
import { finishWarnings } from '../../../src/repair/hand-over/finish-warnings.js'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair, type RepairJob } from '../../../src/repair/repair.js'
import type { Candidate } from '../../../src/search/result.js'
import { plantPlate } from '../../synthetic.js'
import { resultFor } from '../job.js'

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
      [1003, 1004, 1005, 1006, 1007, 1008].map((target) => ({ target, donor: donor(target) })),
      { frames: 24 },
    )
  const hold = lend(() => 1015)
  held = hold.candidate
  run = lend((target) => target + 12).candidate
  job = await openRepair(hold.result)
}, 60_000)

async function finishOf(
  candidate: Candidate,
  addGrain: boolean,
): Promise<PatchFinish & { warnings: string[] }> {
  const pass = new HidePass(job, candidate, { addGrain })
  const meter = await FinishMeter.over(job)
  for (const match of candidate.frames) meter.add(match.target, await pass.repair(match))
  const finish = meter.done()
  const names = candidate.frames.map(({ target }) => `${target}.exr`)
  const written = {
    what: 'patch',
    format: 'exr',
    featherPx: 4,
    featherSide: 'outside',
    addGrain,
    finish,
  } as const
  return { ...finish, warnings: finishWarnings(describePatch(job, candidate, names, written)) }
}

describe('a patch from a held frame', () => {
  test('without grain stands still, and that is said once, with its frames and what to do', async () => {
    const { frames, whole, warnings } = await finishOf(held, false)
    const flicker = [...frames.values()].map((f) => f.flicker)
    expect(flicker[0]).toBeNull()
    // The light of the ring as a whole is told by its grain alone, and is taken out.
    for (const value of flicker.slice(1)) expect(value).toBeLessThan(0.1)
    expect(whole.noise).toEqual([0, 0, 0])
    expect(warnings).toEqual([
      expect.stringMatching(
        /^on frames 1004-1008 the patch stands still where the plate beside it moves \(flicker 0\.0\d on 100\d, 0\.5 to 1\.1 is wanted\): leave out --no-regrain, or put the grain back by hand$/,
      ),
    ])
  })

  test('with grain changes as the plate beside it does', async () => {
    const { whole, warnings } = await finishOf(held, true)
    expect(whole.flicker!).toBeGreaterThan(0.95)
    expect(whole.flicker!).toBeLessThan(1.05)
    expect(warnings).toEqual([])
  })
})

test('a patch from a run has the plate’s own grain: nothing is added, and nothing is to be said', async () => {
  const { frames, whole, warnings } = await finishOf(run, true)
  expect(warnings).toEqual([])
  for (const value of [whole.flicker!, ...whole.noise!]) expect(Math.abs(value - 1)).toBeLessThan(0.05)
  expect(whole.unmeasured).toMatch(/too narrow for a spectrum/)
  for (const { detail } of frames.values()) expect(detail).toBeNull()
})

describe('what a row says of its repaired frames', () => {
  test('is what the patch of the same frames is warned of, in the same words, and nothing where that is not', async () => {
    for (const addGrain of [false, true]) {
      const { whole, warnings } = await finishOf(held, addGrain)
      const faults = faultsOf(whole)
      expect(faults).toHaveLength(warnings.length)
      for (const [i, fault] of faults.entries()) expect(warnings[i]).toContain(fault.replace(/ \(.*/, ''))
    }
  })

  test('names the worst value and what is wanted, each channel and each side', () => {
    const said = faultsOf({ seam: 1.4, flicker: 1, noise: [0.95, 0.72, 1.2], stray: null })
    expect(said).toEqual([
      'differs from the plate at its border by more than grain does (seam 1.40, at most 1.2 is wanted)',
      'has less noise than the plate beside it (noise 0.72, 0.9 to 1.1 is wanted)',
      'has more noise than the plate beside it (noise 1.20, 0.9 to 1.1 is wanted)',
    ])
    expect(faultsOf({ seam: 1.2, flicker: 0.5, noise: [0.9, 1, 1.1], stray: null })).toEqual([])
    expect(faultsOf({ seam: null, flicker: null, noise: null, stray: null })).toEqual([])
  })
})
