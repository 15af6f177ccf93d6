import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { openRepair, repairFrame, repairOf } from '../../src/repair/repair.js'
import { resultOf } from '../../src/search/events.js'
import { hide } from '../../src/search/hide/find.js'
import type { Result } from '../../src/search/result.js'
import { openShot, type Shot } from '../../src/shot/open-shot.js'
import { expectRefusal } from '../refusal.js'
import { plantPlate } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-shot-'))
afterAll(() => rmSync(folder, { recursive: true }))
const BOX = { x: 60, y: 40, w: 30, h: 24 }
let target: string
let other: string
let shot: Shot
let result: Result

beforeAll(async () => {
  target = (await plantPlate(join(folder, 'quay'), { frames: 9, gaps: [1005], noise: 0.01 })).folder
  other = (await plantPlate(join(folder, 'take-two'), { frames: 4, noise: 0.01 })).folder
  shot = await openShot({
    target,
    frames: '1002-1003',
    box: BOX,
    donors: [other],
    donorFrames: '1001-1006',
    reach: 4,
  })
  result = await resultOf(hide(shot, { keep: 2 }))
})

test('a shot has its plates, target frames and donors in order, and the numbers that were not asked for', () => {
  expect(shot.plates.map((p) => p.folder)).toEqual([target, other])
  expect(shot.frames).toEqual([1002, 1003])
  expect(shot.donors).toEqual([
    ...[1001, 1002, 1003, 1004, 1006].map((frame) => ({ plate: 0, frame })),
    ...[1001, 1002, 1003, 1004].map((frame) => ({ plate: 1, frame })),
  ])
  expect(shot.region.box).toEqual(BOX)
  expect([shot.reach, shot.surround]).toEqual([4, 24])
})

test('frames that are barred do not lend, of any plate, even where they are asked for', async () => {
  const narrowed = await openShot({
    target,
    frames: '1002',
    box: BOX,
    donors: [other],
    donorFrames: '1001-1006',
    notFrames: '1002-1004',
  })
  expect(narrowed.donors).toEqual([
    ...[1001, 1006].map((frame) => ({ plate: 0, frame })),
    { plate: 1, frame: 1001 },
  ])
})

test('the patch made on the open shot is the one made of the result alone', async () => {
  const [candidate] = result.candidates
  const here = await repairFrame(repairOf(shot, result), candidate.frames[0], candidate.grain)
  const again = await repairFrame(await openRepair(result), candidate.frames[0], candidate.grain)
  expect(here).toEqual(again)
})

test('what can not be is refused before a frame is read', async () => {
  const asked = { target, frames: '1002', box: BOX }
  await expectRefusal(() => openShot({ ...asked, frames: '1005' }), {
    code: 'FRAMES_OUTSIDE',
    exitCode: 2,
    says: ['1005', 'missing from'],
  })
  await expectRefusal(() => openShot({ ...asked, donorFrames: '2000' }), {
    code: 'FRAMES_OUTSIDE',
    exitCode: 2,
    says: ['no frame that is there'],
  })
  await expectRefusal(() => openShot({ ...asked, notFrames: '2000' }), {
    code: 'FRAMES_OUTSIDE',
    exitCode: 2,
    says: ['`notFrames` names no frame that is there'],
  })
  await expectRefusal(() => openShot({ ...asked, donorFrames: '1003-1004', notFrames: [1003, 1004] }), {
    code: 'FRAMES_OUTSIDE',
    exitCode: 2,
    says: ['`notFrames` leaves no frame that may lend'],
  })
  await expectRefusal(() => openShot({ ...asked, reach: 61 }), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['0 to 60', '61'],
  })
  await expectRefusal(() => openShot({ ...asked, box: undefined }), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['neither'],
  })
})
