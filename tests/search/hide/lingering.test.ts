// Somebody stands in the region for most of the plate, the target's time included, and leaves. Planted truth.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate } from '../../../src/search/result.js'
import { boxOf, type Occluder, type PlateOptions, plantMask, plantPlate } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-lingering-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 50, y: 24, w: 64, h: 56 }
const WANTED = [24, 25, 26, 27]
const LEAVES = 52
const PORTER: Occluder = { x: BOX.x + 8, y: BOX.y + 10, w: 20, h: 40, light: 0.9 }

/** Who stands at x: a coat, and a bag that hangs from it. @param move pixels to the right */
const standing = (x: number, move: number): Occluder[] => [
  { x: x + move, y: BOX.y + 16, w: 16, h: 30, light: 0.06 },
  { x: x + 12 - move, y: BOX.y + 28, w: 8, h: 10, light: 0.5 },
]
/** Shifts from one foot to the other. */
const shift = (i: number) => Math.round(2 * Math.sin(0.75 * i))

async function search(
  name: string,
  there: NonNullable<PlateOptions['occluders']>,
  region: { mask: string } | { box: typeof BOX } = { box: BOX },
) {
  const plate = await plantPlate(join(root, name), {
    width: 160,
    height: 100,
    frames: 76,
    occluders: (i) => [...there(i), ...(WANTED.includes(i) ? [PORTER] : [])],
  })
  const frames = WANTED.map((i) => plate.frames[i])
  const asked = { target: plate.folder, frames, reach: 4, surround: 20, keep: 40 }
  const { candidates } = await findDonors({ ...asked, ...region })
  return candidates
}

const lenders = ({ frames }: Candidate) =>
  frames.flatMap((f) => (f.pieces ?? f.stack ?? [{ frame: f.donor }]).map((s) => s.frame - 1001))

describe('somebody who stands there and walks off to the right', () => {
  const walks = (i: number) => standing(BOX.x + 34 + Math.max(0, i - LEAVES) * 6, shift(i))
  const GONE = LEAVES + 14

  test('is in no donor of the first candidate, which says what was taken for empty', async () => {
    const candidates = await search('walks', walks)
    expect(candidates.length).toBeGreaterThan(4)
    for (const i of lenders(candidates[0])) expect(i).toBeGreaterThan(LEAVES + 4)
    expect(lenders(candidates[0]).some((i) => i >= GONE)).toBe(true)
    expect(candidates[0].verdict).toBe('needs work')
    expect(candidates[0].why).toContain('somebody stays in the region for long')
    for (const c of candidates) expect(c.verdict).not.toBe('holds up')
    const showing = candidates.filter((c) => lenders(c).every((i) => i < LEAVES))
    expect(showing.length).toBeGreaterThan(0)
    for (const c of showing) expect(c.why).toContain('not empty')
  }, 60_000)

  test('is in none under a mask that has a picture for every frame either', async () => {
    const inBox = boxOf(BOX.x, BOX.y, BOX.w, BOX.h)
    const masks = join(root, 'masks')
    mkdirSync(masks)
    for (const i of WANTED) await plantMask(join(masks, `mask.${1001 + i}.png`), inBox, 160, 100)
    const [first] = await search('masked', walks, { mask: masks })
    for (const i of lenders(first)) expect(i).toBeGreaterThan(LEAVES + 4)
    expect(first.why).toContain('somebody stays in the region for long')
  }, 60_000)

  test('is left as a part of the region where he never moves', async () => {
    const [first] = await search('stiff', (i) => (i < LEAVES ? standing(BOX.x + 34, 0) : walks(i)))
    for (const i of lenders(first)) expect(i).toBeLessThan(LEAVES)
    expect(first.why).not.toContain('somebody stays')
  }, 60_000)

  test('is left where he reaches out of the mask, or he would be cut in two', async () => {
    const [first] = await search('across', (i) => walks(i).map((o) => ({ ...o, x: o.x + 20 })))
    for (const i of lenders(first)) expect(i).toBeLessThan(LEAVES)
    expect(first.why).not.toContain('somebody stays')
  }, 60_000)
})

test('what moves in the region and stops, with nobody seen to leave, is a part of it: a shutter that rattles and is pulled up', async () => {
  const [first] = await search('shutter', (i) => (i < LEAVES ? standing(BOX.x + 34, shift(i)) : []))
  for (const i of lenders(first)) expect(i).toBeLessThan(LEAVES)
  expect(first.why).not.toContain('somebody stays')
}, 60_000)

describe('who comes, stands there while the target runs, and goes', () => {
  const [COMES, GOES] = [14, 38]
  /** @param every so many frames he has moved by another pixel */
  const stands = (every: number) => (i: number) => {
    const from = BOX.x + 18 + Math.floor((Math.min(GOES, Math.max(COMES, i)) - COMES) / every)
    const away = 7 * (Math.max(0, COMES - i) + Math.max(0, i - GOES))
    return [{ x: from + away, y: BOX.y + 8, w: 24, h: 44, light: 0.06 }]
  }

  test.each([
    ['by a pixel in twelve frames', 12, 'needs work'],
    ['so much that he is not taken for a part of it', 3, 'holds up'],
  ])(
    'and moves %s is in no donor: more frames show the region without him',
    async (_, every, verdict) => {
      const plate = await plantPlate(join(root, `stands-${every}`), {
        width: 160,
        height: 100,
        frames: 76,
        occluders: stands(every),
      })
      const frames = WANTED.map((i) => plate.frames[i])
      const asked = { target: plate.folder, frames, reach: 4, surround: 20, keep: 40, box: BOX }
      const [first] = (await findDonors(asked)).candidates
      for (const i of lenders(first)) expect(i < COMES - 6 || i > GOES + 6).toBe(true)
      expect(first.verdict).toBe(verdict)
      if (verdict === 'needs work') expect(first.why).toContain('just before and after it')
    },
    60_000,
  )
})
