// Planted: leaves that are another picture on every frame, beside a region that stands still or in it. What shows the same
// donors on every frame freezes what moves in the region; what moves beside it goes on.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import type { Rect } from '../../../src/raster/rect.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-leaves-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 64, y: 34, w: 50, h: 48 }
const FRAMES = 60
const WANTED = [28, 29, 30, 31]
const porter = { x: BOX.x + 8, y: BOX.y + 5, w: 34, h: 40, light: 0.05 }
const FREEZES = 'it would freeze the movement round the region'

/** Leaves all round a box, in stops; no two frames of them are alike. */
const leavesRound =
  ({ x: left, y: top, w, h }: Rect) =>
  (index: number, x: number, y: number) => {
    const within = x >= left && y >= top && x < left + w && y < top + h
    return within ? 0 : 0.35 * Math.sin(0.9 * x + 1.7 * index ** 2) * Math.sin(0.7 * y + 0.6 * index ** 2)
  }

/** The candidates for a porter who stands before the wall, and what those come to that show the same donors on every frame. */
async function search(name: string, still: Rect) {
  const common = { frames: FRAMES, lit: leavesRound(still), noise: 0.004 }
  const plate = await plantPlate(join(root, name), {
    ...common,
    occluders: (i) => (WANTED.includes(i) ? [porter] : []),
  })
  const bare = await openPlate((await plantPlate(join(root, `${name}-bare`), { ...common, start: 5 })).folder)
  const frames = WANTED.map((i) => plate.frames[i])
  const result = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  const frozen = result.candidates.filter(({ kind }) => ['hold', 'stack', 'mosaic'].includes(kind))
  return { result, frozen, bare }
}

test('a wall beside leaves is held, as nothing of it moves', async () => {
  const { result, frozen, bare } = await search('beside', {
    x: BOX.x - 2,
    y: BOX.y - 2,
    w: BOX.w + 4,
    h: BOX.h + 4,
  })
  const [first] = frozen
  expect(first.life).toBeGreaterThan(0.3)
  expect(first.verdict).toBe('holds up')
  expect(await reachedBy(result, first, bare, BOX)).toBeGreaterThan(40)
}, 60_000)

test('leaves in the region are not: they would stand still', async () => {
  const { frozen } = await search('within', { ...BOX, x: BOX.x + 6, w: BOX.w - 12 })
  for (const { verdict, why } of frozen) {
    expect(verdict).not.toBe('holds up')
    expect(why).toContain(FREEZES)
  }
}, 60_000)
