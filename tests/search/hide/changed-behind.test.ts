// Planted: a bag is put down in the region while somebody stands in front of it. Frames before show the wall and frames after
// the bag, and nothing tells which of them the target hides.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-changed-behind-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const WANTED = [28, 29, 30, 31]
const porter = { x: BOX.x + 8, y: BOX.y + 4, w: 54, h: 40, light: 0.9 }

/** @param putDown index of the first frame that shows the bag */
async function search(name: string, putDown: number) {
  const bag = { x: BOX.x + 30, y: BOX.y + 30, w: 16, h: 16, light: 0.4 }
  const plate = await plantPlate(join(root, name), {
    frames: 60,
    occluders: (i) => [...(i >= putDown ? [bag] : []), ...(WANTED.includes(i) ? [porter] : [])],
  })
  const frames = WANTED.map((i) => plate.frames[i])
  return findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
}

test('neither what was there before nor what is there after holds up', async () => {
  const { candidates } = await search('behind', 30)
  expect(candidates.length).toBeGreaterThan(4)
  for (const c of candidates) expect(c.verdict).not.toBe('holds up')
  expect(candidates[0].shortfall).toBeGreaterThan(3)
}, 60_000)

test('put down when the region is seen, it is no reason to doubt what the region shows on both sides', async () => {
  const { candidates } = await search('seen', 20)
  expect(candidates[0].verdict).toBe('holds up')
  expect(
    candidates[0].frames.every((f) => (f.stack ?? [{ frame: f.donor }]).every((s) => s.frame >= 1021)),
  ).toBe(true)
}, 60_000)
