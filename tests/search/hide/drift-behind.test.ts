// Planted: a shadow's edge creeps over the wall while somebody stands in front of it for long. Before he comes it is never still,
// and when he has gone it has passed: what is seen then is alike on all frames, and not what he hides.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-drift-behind-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 54, y: 34, w: 50, h: 48 }
const WANTED = [36, 37, 38, 39]
/** He shifts from foot to foot. */
const porter = (i: number) => {
  return { x: BOX.x + 1 + Math.round(6 * Math.sin(i / 5)), y: BOX.y + 4, w: 42, h: 42, light: 0.9 }
}
/** He stands there on these frames, in order. */
const HIDDEN = [22, 70]

/** @param pxPerFrame by which the edge moves from the region's middle on; 0: there is none */
async function search(name: string, pxPerFrame: number) {
  const edge = (i: number) => BOX.x + BOX.w / 2 - pxPerFrame * (i - WANTED[0])
  const plate = await plantPlate(join(root, name), {
    frames: 110,
    noise: 0.01,
    lit: (i, x) => (pxPerFrame === 0 ? 0 : -0.8 / (1 + Math.exp((x - edge(i)) / 1.5))),
    occluders: (i) => (i >= HIDDEN[0] && i <= HIDDEN[1] ? [porter(i)] : []),
  })
  const frames = WANTED.map((i) => plate.frames[i])
  return findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
}

test('what is alike on all frames that are seen holds up for no moment so far from them', async () => {
  const { candidates } = await search('creeps', 0.6)
  expect(candidates.length).toBeGreaterThan(2)
  for (const { verdict } of candidates) expect(verdict).not.toBe('holds up')
}, 60_000)

test('a wall that is seen on both sides holds up, however long he stands there', async () => {
  const { candidates } = await search('stays', 0)
  expect(candidates[0].verdict).toBe('holds up')
}, 60_000)
