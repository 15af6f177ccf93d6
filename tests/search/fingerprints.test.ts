// A result knows what it was made from: whatever has changed since is named, and nothing else is.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, utimesSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import { openRepair } from '../../src/repair/repair.js'
import { findDonors } from '../../src/search/hide/find.js'
import { type Result, resultSchema } from '../../src/search/result.js'
import { expectRefusal } from '../refusal.js'
import { boxOf, type Planted, plantMask, plantPlate } from '../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-fingerprints-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = [38, 26, 20, 20] as const
let n = 0
let plate: Planted
let masks: string
let result: Result

const paint = (frame: number, white: (x: number, y: number) => number) =>
  plantMask(join(masks, `m.${frame}.png`), white, 96, 72)

beforeEach(async () => {
  const folder = join(root, `case${n++}`)
  plate = await plantPlate(join(folder, 'plate'), { width: 96, height: 72, frames: 8 })
  masks = join(folder, 'masks')
  mkdirSync(masks)
  for (const f of [1002, 1003, 1004]) await paint(f, f === 1004 ? () => 0 : boxOf(...BOX))
  const asked = { target: plate.folder, mask: masks, frames: '1002-1004', donorFrames: '1001-1006' }
  const found = await findDonors({ ...asked, reach: 4, surround: 12, keep: 2 })
  // as it comes back from disk
  result = resultSchema.parse(JSON.parse(JSON.stringify(found)))
})

const changed = async (of = result) => (await openRepair(of)).changed

describe('nothing is said', () => {
  test('where nothing has changed, nor where the same mask is stored another way', async () => {
    expect(await changed()).toEqual([])
    const path = join(masks, 'm.1002.png')
    const { data, info } = await sharp(readFileSync(path)).raw().toBuffer({ resolveWithObject: true })
    await sharp(data, { raw: info }).png({ palette: true }).toFile(path)
    expect(await changed()).toEqual([])
  })

  test('of plate frames that no candidate uses', async () => {
    utimesSync(plate.pathOf(1008), 1, 1)
    expect(await changed()).toEqual([])
  })

  test('by a result that was written without fingerprints', async () => {
    await paint(1003, boxOf(30, 20, 30, 30))
    expect(await changed({ ...result, fingerprints: undefined })).toEqual([])
    const { fingerprints: _, ...older } = result
    expect(resultSchema.safeParse(older).success).toBe(true)
  })
})

describe('what has changed is named', () => {
  test('a mask that was edited, with its frame', async () => {
    await paint(1003, boxOf(37, 26, 21, 20))
    const [change, ...others] = await changed()
    expect(others).toEqual([])
    expect(change).toMatchObject({ what: 'mask', message: expect.stringContaining(masks) })
    expect(change.message).toContain('on frame 1003:')
  })

  test('a mask that was black and is no longer', async () => {
    await paint(1004, boxOf(...BOX))
    expect((await changed()).map((c) => c.message).join()).toContain('on frame 1004:')
  })

  test('a mask by one step of its weights', async () => {
    await paint(1002, (x, y) => boxOf(...BOX)(x, y) * (x === 40 && y === 30 ? 254 / 255 : 1))
    expect((await changed()).map((c) => c.what)).toEqual(['mask'])
  })

  test('a plate that was rendered again, with the frame', async () => {
    utimesSync(plate.pathOf(1003), 1, 1)
    const [change, ...others] = await changed()
    expect(others).toEqual([])
    expect(change.what).toBe('plate')
    expect(change.message).toContain('on frame 1003:')
  })

  test('options, wherever the result lies', async () => {
    expect((await changed({ ...result, reach: 5 })).map((c) => c.what)).toEqual(['options'])
    const region = { ...result.region, surround: 11 }
    expect((await changed({ ...result, region })).map((c) => c.what)).toEqual(['options'])
  })
})

test('a mask that became black on a target frame is refused by name', async () => {
  await paint(1003, () => 0)
  await expectRefusal(changed, { code: 'MASK_CHANGED', exitCode: 1, says: [masks, '1003', 'search again'] })
})
