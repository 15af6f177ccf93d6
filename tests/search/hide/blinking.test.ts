// Planted: a lamp that hangs over the region and goes out for three frames of every ten. Whether it is on behind whoever must go,
// the surround tells little of.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate } from '../../../src/search/result.js'
import { FIRST, plantPlate, texturedWall } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-blinking-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 50, y: 36, w: 44, h: 40 }
const WANTED = [50, 51, 52, 53, 54, 55]
const isOut = (i: number) => i % 10 < 3
/** Stops that the lamp lends to a place: hardly any beyond the region. */
const lent = (x: number, y: number) => {
  const [u, v] = [(x - BOX.x - BOX.w / 2) / 13, (y - BOX.y - BOX.h / 2) / 13]
  return 0.8 * Math.exp(-(u * u + v * v) / 2)
}

/** Every donor shows the lamp as it is on its target frame. */
const agrees = ({ frames }: Candidate) =>
  frames.every(({ target, donor, stack, pieces }) =>
    (pieces ?? stack ?? [{ frame: donor }]).every(
      ({ frame }) => isOut(frame - FIRST) === isOut(target - FIRST),
    ),
  )

test('nothing holds up that shows a lamp lit where it is out', async () => {
  const plate = await plantPlate(join(root, 'lamp'), {
    frames: 90,
    lit: (i, x, y) => (isOut(i) ? 0 : lent(x, y)),
    occluders: (i) => (WANTED.includes(i) ? [{ x: BOX.x + 6, y: BOX.y + 4, w: 32, h: 34, light: 0.9 }] : []),
  })
  const frames = WANTED.map((i) => plate.frames[i])
  const { candidates } = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  expect(candidates.length).toBeGreaterThan(4)
  expect(candidates.some((c) => !agrees(c))).toBe(true)
  for (const c of candidates) if (!agrees(c)) expect(c.verdict, c.id).not.toBe('holds up')
}, 120_000)

const rough = texturedWall(6)

/** On a wall with little texture, so that little but its outline tells of it. */
test('a board that is put up at the same place again and again is no light: without it the first candidate holds up', async () => {
  const isUp = (i: number) => i % 24 >= 8 && i % 24 < 12
  const box = { x: 40, y: 26, w: 80, h: 68 }
  const board = { x: box.x + 4, y: box.y + 4, w: 72, h: 60, light: 0.05 }
  const plate = await plantPlate(join(root, 'board'), {
    frames: 96,
    wall: (x, y) => 0.2 * (rough(x, y) / 0.2) ** 0.15,
    occluders: (i) => (isUp(i) ? [board] : []),
  })
  const frames = [54, 55, 56, 57, 58, 59].map((i) => plate.frames[i])
  const { candidates } = await findDonors({ target: plate.folder, frames, box, reach: 4, surround: 20 })
  const [first] = candidates
  expect(first.verdict, first.why).toBe('holds up')
  const lenders = first.frames.flatMap((f) => f.pieces ?? f.stack ?? [{ frame: f.donor }])
  for (const { frame } of lenders) expect(isUp(frame - FIRST)).toBe(false)
}, 120_000)
