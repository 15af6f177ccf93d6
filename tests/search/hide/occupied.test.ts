// What stands in the region most of the time, or always, and is in the target too: the plate's commonest picture of the
// region is then the very thing that is to be hidden. Planted truth.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { boxOf, type Occluder, plantMask, plantPlate } from '../../synthetic.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-occupied-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 36, y: 24, w: 24, h: 28 }
const CRATE: Occluder = { x: 40, y: 28, w: 16, h: 20, light: 0.05 }
const FRAMES = 50

function search(
  name: string,
  frames: string,
  occluders: (index: number) => readonly Occluder[],
): Promise<Result> {
  return plantPlate(join(folder, name), { width: 96, height: 72, frames: FRAMES, occluders }).then((plate) =>
    findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 12, keep: 40 }),
  )
}

const shows = (c: Candidate, there: (index: number) => boolean) =>
  c.frames.some((f) => (f.stack ?? [{ frame: f.donor }]).some((s) => there(s.frame - 1001)))

describe('a crate that stands in the region for 30 of 50 frames, those of the target among them', () => {
  const there = (i: number) => i >= 12 && i < 42
  let result: Result
  beforeAll(async () => {
    result = await search('most', '1021-1024', (i) => (there(i) ? [CRATE] : []))
  }, 30_000)

  test('nothing holds up without a look, and no candidate that shows it is more than hopeless', () => {
    expect(result.candidates.length).toBeGreaterThan(4)
    for (const c of result.candidates) {
      expect(c.verdict).not.toBe('holds up')
      if (shows(c, there)) expect(c.verdict).toBe('will not hold')
    }
  })

  test('the frames without it come first, and their reason says what to look at', () => {
    const crates = result.candidates.map((c) => shows(c, there))
    expect(crates[0]).toBe(false)
    expect(crates).toContain(true)
    expect(crates.lastIndexOf(false)).toBeLessThan(crates.indexOf(true))
    expect(result.candidates[0].verdict).toBe('needs work')
    expect(result.candidates[0].why).toContain('the target shows what most frames show')
  })

  test('so it is under a mask that has a picture for every frame', async () => {
    const masks = join(folder, 'masks')
    mkdirSync(masks)
    const { x, y, w, h } = BOX
    for (const frame of [1021, 1022, 1023, 1024])
      await plantMask(join(masks, `mask.${frame}.png`), boxOf(x, y, w, h), 96, 72)
    const asked = { target: join(folder, 'most'), frames: '1021-1024', reach: 4, surround: 12, keep: 40 }
    const { candidates } = await findDonors({ ...asked, mask: masks })
    const ids = (of: readonly Candidate[]) => of.map(({ id }) => id).sort()
    expect(ids(candidates)).toEqual(ids(result.candidates))
    expect(shows(candidates[0], there)).toBe(false)
  }, 30_000)

  test('candidates that show it say so', () => {
    const showing = result.candidates.filter((c) => shows(c, there))
    expect(showing.length).toBeGreaterThan(0)
    for (const c of showing) expect(c.why).toContain('not empty')
  })
})

test('a crate that never leaves can not be hidden: every candidate will not hold, and says why', async () => {
  const result = await search('always', '1021-1024', () => [CRATE])
  expect(result.candidates.length).toBeGreaterThan(0)
  for (const c of result.candidates) {
    expect(c.verdict).toBe('will not hold')
    expect(c.why).toContain('shows what the target shows')
  }
}, 30_000)

test('somebody who passes in front of the crate is hidden by frames that show the crate, and they hold up', async () => {
  const porter = (i: number): Occluder => ({ x: 4 * i - 44, y: 20, w: 10, h: 34, light: 0.6 })
  const result = await search('behind', '1021-1024', (i) =>
    i >= 8 && i < 45 ? [CRATE, porter(i)] : [porter(i)],
  )
  const [first] = result.candidates
  expect(first.verdict).toBe('holds up')
  expect(shows(first, (i) => i < 8 || i >= 45)).toBe(false)
}, 30_000)

test('the region of a target frame on which nobody stands there yet is no reason to doubt the others', async () => {
  // The porter comes in on the third of four frames.
  const porter = (i: number): Occluder => ({ x: 8 * (i - 22) + 20, y: 26, w: 14, h: 24, light: 0.6 })
  const result = await search('enters', '1021-1024', (i) => (i >= 20 && i < 27 ? [porter(i)] : []))
  expect(result.candidates[0].verdict).toBe('holds up')
}, 30_000)
