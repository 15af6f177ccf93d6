// Planted: the region changes while somebody stands in front of it. Frames before show another picture than frames after, and
// nothing tells which of them the target hides.
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

/** A porter stands before a bag. @param putDown index of the first frame that shows the bag */
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

test('nor where it is hidden a second time and stays as it is then, for longer', async () => {
  const again = Array.from({ length: 13 }, (_, i) => 44 + i)
  const bag = { x: BOX.x + 30, y: BOX.y + 30, w: 16, h: 16, light: 0.4 }
  const plate = await plantPlate(join(root, 'twice'), {
    frames: 90,
    occluders: (i) => [...(i >= 30 ? [bag] : []), ...([...WANTED, ...again].includes(i) ? [porter] : [])],
  })
  const frames = [...WANTED, ...again].map((i) => plate.frames[i])
  const { candidates } = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  expect(candidates.length).toBeGreaterThan(0)
  for (const c of candidates) expect(c.verdict).not.toBe('holds up')
}, 60_000)

test('put down when the region is seen, it is no reason to doubt what the region shows on both sides', async () => {
  const { candidates } = await search('seen', 20)
  expect(candidates[0].verdict).toBe('holds up')
  expect(
    candidates[0].frames.every((f) => (f.stack ?? [{ frame: f.donor }]).every((s) => s.frame >= 1021)),
  ).toBe(true)
}, 60_000)

/** Somebody is always in the way before a door opens, long after the target; then it is seen open, with nobody there. */
test('what most of the plate shows may hold where no frame on that side is empty', async () => {
  const OPENS = 60
  const door = { x: BOX.x + 30, y: BOX.y + 6, w: 26, h: 42, light: 0.08, tint: [1.5, 0.9, 0.6] as const }
  const passer = (i: number) => ({ x: BOX.x + ((5 * i) % 60), y: BOX.y + 34, w: 12, h: 14, light: 0.9 })
  const plate = await plantPlate(join(root, 'door'), {
    frames: 90,
    occluders: (i) => {
      if (WANTED.includes(i)) return [porter]
      if (i < OPENS) return [passer(i)]
      return i < OPENS + 14 ? [door] : [door, passer(i)]
    },
  })
  const frames = WANTED.map((i) => plate.frames[i])
  const { candidates } = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  const [first] = candidates
  expect(first.verdict).toBe('needs work')
  expect(first.why).toContain(`this shows it as it is before ${frames[0]}`)
  expect(first.why).not.toContain('another colour')
  const lenders = first.frames.flatMap((f) => f.pieces ?? f.stack ?? [{ frame: f.donor }])
  for (const { frame } of lenders) expect(frame).toBeLessThan(plate.frames[OPENS])
}, 60_000)

const patch = (x: number, y: number) => ((Math.floor(x / 8) * 7 + Math.floor(y / 8) * 3) % 5) / 2 - 1
const isWithin = (x: number, y: number, px: number) =>
  x >= BOX.x - px && y >= BOX.y - px && x < BOX.x + BOX.w + px && y < BOX.y + BOX.h + px

/** How much of the patches is there while they come and go three times, and where `behind` says so go at once as well. */
function courseOf(i: number, behind: boolean): number {
  const slowly = (from: number) => Math.min(1, Math.max(0, (i - from) / 10))
  if (behind && i >= 74 && i < 110) return 0
  return slowly(8) - slowly(26) + slowly(44) - slowly(100) + slowly(118)
}

/**
 * A wall in patches that are a little lighter and darker, as codecs draw them: slowly they come and go, and where `behind`
 * says so they go at once while a porter stands there, between the last target frame and the next.
 */
async function searchPatches(name: string, behind: boolean) {
  const plate = await plantPlate(join(root, name), {
    frames: 140,
    noise: 0.004,
    lit: (i, x, y) => (isWithin(x, y, 2) ? 0.08 * courseOf(i, behind) * patch(x, y) : 0),
    occluders: (i) => (i >= 70 && i < 74 ? [porter] : []),
  })
  const frames = [70, 71, 72, 73].map((i) => plate.frames[i])
  return findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
}

test('nor where as much comes and goes elsewhere, but slowly', async () => {
  const { candidates } = await searchPatches('patches-behind', true)
  expect(candidates.length).toBeGreaterThan(4)
  for (const c of candidates) expect(c.verdict).not.toBe('holds up')
}, 120_000)

test('what comes and goes slowly elsewhere is no reason to doubt a region that stays', async () => {
  const { candidates } = await searchPatches('patches-stay', false)
  expect(candidates[0].verdict).toBe('holds up')
}, 120_000)
