import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { openRepair, repairOf } from '../../src/repair/repair.js'
import { resultOf } from '../../src/search/events.js'
import { hide } from '../../src/search/hide/find.js'
import { searchAgain } from '../../src/search/hide/search-again.js'
import { type Result, resultSchema } from '../../src/search/result.js'
import { openShot, type Shot } from '../../src/shot/open-shot.js'
import { expectRefusal } from '../refusal.js'
import { allWeights } from '../region/all-weights.js'
import { boxOf, plantMask, plantPlate } from '../synthetic.js'

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
  const here = await repairFrame(repairOf(shot, result), candidate, candidate.frames[0])
  const again = await repairFrame(await openRepair(result), candidate, candidate.frames[0])
  expect(here).toEqual(again)
})

test.each([
  ['a box', async () => ({ box: BOX })],
  ['a mask', async () => ({ mask: await plantMask(join(folder, 'm.png'), boxOf(60, 40, 30, 24), 160, 120) })],
])(
  '%s that is grown is what is patched later, from the result alone',
  async (_, given) => {
    const grown = await openShot({ target, frames: '1002', ...(await given()), grow: 5, reach: 4 })
    // A disk: as wide as the box and 5 px either side, but round at its corners.
    expect(grown.region.box).toEqual({ x: 55, y: 35, w: 40, h: 34 })
    const { inside } = grown.region.frames.get(1002)!
    expect(inside.reduce((n, v) => n + v, 0)).toBe(30 * 24 + 2 * 5 * (30 + 24) + discWithoutAxes(5))
    const searched = await resultOf(hide(grown, { keep: 1 }))
    expect(resultSchema.parse(searched)).toEqual(searched)
    expect(searched.region).toMatchObject({ grow: 5, box: [55, 35, 40, 34] })
    const job = await openRepair(searched)
    expect(job.changed).toEqual([])
    expect(allWeights(job.region)).toEqual(allWeights(grown.region))
    const [candidate] = searched.candidates
    expect(await searchAgain(searched, candidate.kind === 'hold' ? candidate.id : 'hold-1001')).toMatchObject(
      {
        asked: true,
      },
    )
    const less = await openRepair({ ...searched, region: { ...searched.region, grow: 4 } })
    expect(less.changed.map((c) => c.what)).toEqual(['options'])
  },
  30_000,
)

/** Pixels of a disk that lie on neither of its axes: what four corners are grown by. */
function discWithoutAxes(radius: number): number {
  let n = 0
  for (let y = -radius; y <= radius; y++)
    for (let x = -radius; x <= radius; x++) if (x !== 0 && y !== 0 && x * x + y * y <= radius * radius) n++
  return n
}

test.each([
  { title: 'from the frame before, as many as the plate has', first: 1000, count: 4, off: '1 frame off' },
  { title: 'from two frames later', first: 1003, count: 4, off: '2 frames off' },
  { title: 'as the plate is', first: 1001, count: 4, off: null },
  { title: 'from the frame before, one more of them', first: 1000, count: 5, off: null },
])('masks that are numbered otherwise than the plate may lie on their neighbours: $title', async (given) => {
  const masks = join(folder, `masks-${given.first}-${given.count}`)
  mkdirSync(masks)
  for (let f = given.first; f < given.first + given.count; f++)
    await plantMask(join(masks, `m.${f}.png`), boxOf(50, 40, 20, 20))
  const { region } = await openShot({ target: other, frames: '1003', mask: masks })
  if (given.off === null) expect(region.notes).toEqual([])
  else
    expect(region.notes).toEqual([
      expect.stringMatching(
        `is numbered ${given.first}-\\d+ where those are 1001-1004.* ${given.off}, and must be`,
      ),
    ])
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
  await expectRefusal(() => openShot({ ...asked, layer: 'diffuse' }), {
    code: 'MISUSE',
    exitCode: 2,
    says: ['`layer` takes effect on EXR only', 'quay.####.png'],
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
