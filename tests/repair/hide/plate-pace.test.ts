// Planted truth: a wall before a camera that stands, whose grain is another one on every frame.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { paceOf } from '../../../src/repair/hide/plate-pace.js'
import { openRepair } from '../../../src/repair/repair.js'
import { plantPlate } from '../../synthetic.js'
import { resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-pace-'))
afterAll(() => rmSync(folder, { recursive: true }))

test('a target frame that can not be read takes no part in the pace of the others', async () => {
  const plate = await plantPlate(join(folder, 'plate'), {
    frames: 9,
    sway: () => [0, 0],
    occluders: () => [],
  })
  const targets = [1003, 1004, 1005, 1006, 1007]
  const paceNow = async () => {
    const matches = targets.map((target) => ({ target, donor: 1009 }))
    const { result } = resultFor(plate.folder, matches, { frames: 9 })
    const candidates = result.candidates.map((c) => ({ ...c, kind: 'hold' as const }))
    return paceOf(await openRepair({ ...result, candidates }))
  }
  const whole = (await paceNow())!
  expect([...whole.keys()]).toEqual([1004, 1005, 1006, 1007])
  writeFileSync(plate.pathOf(1005), '')
  const rest = (await paceNow())!
  expect([...rest.keys()]).toEqual([1004, 1007])
  for (const [target, change] of rest) expect(change).toBeCloseTo(whole.get(target)!, 6)
})
