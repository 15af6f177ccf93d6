// The unit that a seam is counted in: what grain alone gives. It must not vanish where frames repeat each other, where there
// is next to no grain, or where only one donor is asked for. Planted truth.
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-unit-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const SMALL = { width: 96, height: 72 }
const BOX = { x: 38, y: 26, w: 20, h: 20 }
const porter = { x: 42, y: 28, w: 12, h: 16, light: 0.04 }
const HIDE = { box: BOX, reach: 4, surround: 12, keep: 40 }

test('a plate that holds its first frame for two fifths of its length has donors with a seam within the grain', async () => {
  const plate = await plantPlate(join(folder, 'held'), {
    ...SMALL,
    frames: 60,
    occluders: (i) => (i > 40 && i < 44 ? [porter] : []),
  })
  for (let f = 1002; f < 1025; f++) copyFileSync(plate.pathOf(1001), plate.pathOf(f))
  const { candidates } = await findDonors({ target: plate.folder, frames: '1042-1043', ...HIDE })
  expect(candidates[0].verdict).toBe('holds up')
  const later = candidates.filter((c) => c.kind === 'hold' && c.frames[0].donor > 1024)
  expect(later.length).toBeGreaterThan(1)
  for (const c of later) {
    expect(c.seam).toBeGreaterThan(0.5)
    expect(c.seam).toBeLessThan(1.5)
  }
}, 30_000)

test('a difference that nobody can see is no seam, however closely other frames agree', async () => {
  // Next to no grain, and one frame on which the camera stood a fortieth of a pixel off: 0.003 stops on this wall.
  const plate = await plantPlate(join(folder, 'lossless'), {
    ...SMALL,
    frames: 24,
    noise: 0.0001,
    sway: (i) => (i === 17 ? [0.025, 0] : [0, 0]),
    occluders: (i) => (i === 10 ? [porter] : []),
  })
  const { candidates } = await findDonors({
    target: plate.folder,
    frames: '1011',
    donorFrames: '1018',
    ...HIDE,
  })
  const off = candidates[0]
  expect(off.seam).toBeGreaterThan(0.05)
  expect(off.seam).toBeLessThan(1)
}, 30_000)

describe('one lone donor that is asked for', () => {
  const occluders = (i: number) => (i === 10 || i === 15 ? [porter] : [])
  const search = async (donorFrames?: string) => {
    const plate = await plantPlate(join(folder, `lone${donorFrames ?? ''}`), {
      ...SMALL,
      frames: 40,
      occluders,
    })
    return findDonors({ target: plate.folder, frames: '1011', donorFrames, ...HIDE })
  }

  test('has the seam that it has among all others', async () => {
    const all = await search()
    const held = all.candidates.filter((c) => c.kind === 'hold').slice(0, 3)
    expect(held.length).toBe(3)
    for (const c of held) {
      const alone = await search(String(c.frames[0].donor))
      expect(alone.candidates.map((a) => a.id)).toContain(c.id)
      const same = alone.candidates.find((a) => a.id === c.id)!
      expect(same.seam! / c.seam!).toBeGreaterThan(0.95)
      expect(same.seam! / c.seam!).toBeLessThan(1.05)
      expect(same.clean).toBe(c.clean)
      expect(same.verdict).toBe('holds up')
    }
  }, 60_000)

  test('is not clean because nothing else was asked for: a porter in it is seen', async () => {
    const { candidates } = await search('1016')
    expect(candidates.length).toBeGreaterThan(0)
    for (const c of candidates) {
      expect(c.verdict).toBe('will not hold')
      expect(c.clean).toBeLessThan(0.7)
    }
  }, 30_000)
})
