// Planted: a plate of a dozen frames, too few to learn from. What is expected of a donor comes from other plates then, and is
// told against the target's best donors, which the target itself is none of.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-few-frames-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const WANTED = [5, 6, 7]
const porter = { x: BOX.x + 8, y: BOX.y + 4, w: 54, h: 40, light: 0.9 }

test('of few frames the first is expected no further off than what nothing was learnt for may be', async () => {
  const common = { frames: 12, noise: 0.01 }
  const plate = await plantPlate(join(root, 'plate'), {
    ...common,
    occluders: (i) => (WANTED.includes(i) ? [porter] : []),
  })
  const bare = await openPlate((await plantPlate(join(root, 'bare'), common)).folder)
  const frames = WANTED.map((i) => plate.frames[i])
  const result = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  expect(result.warnings.join('\n')).toContain('too few frames show the region')
  const [first] = result.candidates
  const reached = await reachedBy(result, first, bare, BOX)
  expect(Math.abs(first.expected! - reached)).toBeLessThan(10)
}, 60_000)
