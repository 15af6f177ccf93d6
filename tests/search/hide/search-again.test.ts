// What a result does not list can be picked: it is what it would have been as a row. Laws, on planted plates.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { repairFrame } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { searchAgain } from '../../../src/search/hide/search-again.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import type { ShotRequest } from '../../../src/shot/open-shot.js'
import { expectRefusal } from '../../refusal.js'
import { boxOf, plantMask, plantPlate } from '../../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-again-'))
afterAll(() => rmSync(folder, { recursive: true }))

const SMALL = { width: 96, height: 72 }
let request: ShotRequest
/** As it is read from disk. */
let result: Result
beforeAll(async () => {
  const plate = await plantPlate(join(folder, 'quay'), {
    ...SMALL,
    frames: 22,
    stops: (i) => 0.1 * Math.sin(i / 3),
    sway: (i) => [i === 9 ? 3 : i === 21 ? -3 : 0.4 * Math.sin(i), 0.3 * Math.cos(i)],
    occluders: (i) => (i > 8 && i < 13 ? [{ x: 41, y: 28, w: 12, h: 16, light: 0.04 }] : []),
  })
  const other = await plantPlate(join(folder, 'take-two'), { ...SMALL, frames: 8, start: 5 })
  const masks = join(folder, 'masks')
  mkdirSync(masks)
  for (const f of [1010, 1011, 1012]) {
    const white = boxOf(38 + f - 1010, 26, 20, 20)
    await plantMask(join(masks, `m.${f}.png`), f === 1012 ? () => 0 : white, SMALL.width, SMALL.height)
  }
  request = {
    target: plate.folder,
    frames: '1010-1012',
    mask: masks,
    donors: [other.folder],
    donorFrames: '1001-1020',
    notFrames: '1004-1007',
    reach: 4,
    surround: 12,
  }
  result = JSON.parse(JSON.stringify(await findDonors({ ...request, keep: 2 })))
}, 60_000)

async function pixelsOf(candidate: Candidate) {
  const job = await openRepair(result)
  return Promise.all(candidate.frames.map((match) => repairFrame(job, candidate, match)))
}

test.each(['hold-1019', 'hold-1005', 'run+6', 'mirror-2030', 'hold-1003.p2'])(
  '%s is measured as it would have been beside the others, and lends the same pixels',
  async (id) => {
    const found = await searchAgain(result, id)
    const beside = (await findDonors({ ...request, keep: 2, tries: [id] })).candidates.find(
      (c) => c.id === id,
    )!
    expect({ ...found, alternatives: [] }).toEqual({ ...beside, alternatives: [] })
    expect(found.frames.map((f) => f.target)).toEqual([1010, 1011])
    expect(await pixelsOf(found)).toEqual(await pixelsOf(beside))
  },
  40_000,
)

test('a folded alternative has the score that the sheet gives it', async () => {
  const all = await findDonors({ ...request, keep: 40 })
  const row = all.candidates.find((c) => (c.alternatives?.length ?? 0) > 0)!
  for (const { id, score } of row.alternatives!.slice(0, 2))
    expect((await searchAgain(result, id)).score).toBe(score)
}, 60_000)

test('what can not be laid on the target is refused with the reason', async () => {
  await expectRefusal(() => searchAgain(result, 'hold-1022'), {
    code: 'NOT_LAID',
    exitCode: 1,
    says: ['hold-1022', 'frame 1022 lies', 'beyond the reach', 'pick another'],
  })
}, 20_000)

test.each([
  ['run+30', 'FRAMES_OUTSIDE', ['run+30', '1001-1022']],
  ['relay-1', 'MISUSE', ['"relay-1"']],
])('%s is refused under the name of the option that picks', async (id, code, says) => {
  await expectRefusal(() => searchAgain(result, id), { code, exitCode: 2, says: ['`pick`', ...says] })
})
