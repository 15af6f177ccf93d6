// Planted: a lamp that hangs over the region and goes out for three frames of every ten. Whether it is on behind whoever must go,
// the surround tells little of.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate } from '../../../src/search/result.js'
import { FIRST, plantPlate } from '../../synthetic.js'

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
