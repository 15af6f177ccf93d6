// Planted: snow falls on everything, people pass, and the donors that are taken have hardly a flake. The truth has all of them.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate, random } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-falling-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const WANTED = [34, 35, 36, 37]
const porter = { x: BOX.x + 6, y: BOX.y + 3, w: 58, h: 42, light: 0.9 }

const even = random(11)
const FLAKES = Array.from({ length: 150 }, () => ({
  x: 160 * even(),
  y: 120 * even(),
  down: 2 + 3 * even(),
  light: 0.5 + 0.4 * even(),
}))
const flakes = (i: number) =>
  FLAKES.map(({ x, y, down, light }) => {
    return { x: Math.floor(x + 0.7 * i) % 158, y: Math.floor(y + down * i) % 118, w: 2, h: 2, light }
  })

test('what falls on all sides of the region is expected to fall on it', async () => {
  const common = { frames: 72, noise: 0.01 }
  const plate = await plantPlate(join(root, 'snow'), {
    ...common,
    occluders: (i) => [...(WANTED.includes(i) ? [porter] : []), ...flakes(i)],
  })
  const bare = await plantPlate(join(root, 'bare'), { ...common, start: 2, occluders: flakes })
  const frames = WANTED.map((i) => plate.frames[i])
  const result = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  const [first] = result.candidates
  const reached = await reachedBy(result, first, await openPlate(bare.folder), BOX)
  expect(Math.abs(first.expected! - reached)).toBeLessThan(6)
  expect(reached).toBeGreaterThan(first.interval![0])
  expect(reached).toBeLessThan(first.interval![1])
  // Whatever lies so far from the truth shows.
  expect(reached).toBeLessThan(28)
  for (const { verdict } of result.candidates) expect(verdict).not.toBe('holds up')
}, 60_000)
