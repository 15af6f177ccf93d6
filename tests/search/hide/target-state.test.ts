// Planted: the sun throws the shadow of a grating on all of a wall, until a cloud comes. What most frames agree on is then the wall
// without it, and a patch of that would show in the sun.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-target-state-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const CLOUD = 30
const porter = { x: BOX.x + 8, y: BOX.y + 4, w: 54, h: 40, light: 0.9 }
/** Runs across the region now and then, in the sun and without it. */
const runner = (i: number) => ({ x: BOX.x - 4 + 24 * (i % 3), y: BOX.y + 6, w: 18, h: 40, light: 0.05 })
const grating = (x: number, y: number) => ((x + 2 * y) % 14 < 5 ? -0.7 : 0)

/**
 * @param wanted indices of the frames on which the porter stands there
 * @param runs   whether somebody runs across on the frame of an index
 * @param beside whether a crate stands beside the region on the wanted ones
 */
async function search(
  name: string,
  wanted: readonly number[],
  { beside = false, runs = (i: number) => i % 3 === 0 } = {},
) {
  const crate = { x: BOX.x + BOX.w + 3, y: BOX.y, w: 16, h: 48, light: 0.03 }
  const plate = await plantPlate(join(root, name), {
    frames: 90,
    lit: (i, x, y) => (i < CLOUD ? grating(x, y) : 0),
    occluders: (i) => {
      if (wanted.includes(i)) return beside ? [porter, crate] : [porter]
      return runs(i) ? [runner(i)] : []
    },
  })
  const frames = wanted.map((i) => plate.frames[i])
  const { candidates, warnings } = await findDonors({
    target: plate.folder,
    frames,
    box: BOX,
    reach: 4,
    surround: 20,
  })
  const lenders = candidates[0].frames.flatMap((f) => f.pieces ?? f.stack ?? [{ frame: f.donor }])
  return { first: candidates[0], warnings, lenders: lenders.map(({ frame }) => plate.frames.indexOf(frame)) }
}

const OTHERWISE =
  /otherwise for most of its length .*: what \d+ frames that look like them show is taken for empty/

test('frames in the sun lend to a target in the sun, though most have none, and it is said so', async () => {
  const { first, lenders, warnings } = await search('sun', [16, 17, 18, 19])
  for (const i of lenders) expect(i).toBeLessThan(CLOUD)
  expect(first.verdict, first.why).toBe('holds up')
  expect(warnings.join('\n')).toMatch(OTHERWISE)
}, 60_000)

test('so they do where somebody is in the way on all that lie near it', async () => {
  const { lenders } = await search('busy', [16, 17, 18, 19], { runs: (i) => i > 8 && i < CLOUD + 4 })
  for (const i of lenders) expect(i).toBeLessThan(CLOUD)
}, 60_000)

test('to one without, frames without: it is what the plate shows as a rule, and nothing is said', async () => {
  const { first, lenders, warnings } = await search('cloud', [60, 61, 62, 63])
  for (const i of lenders) expect(i).toBeGreaterThanOrEqual(CLOUD)
  expect(first.verdict, first.why).toBe('holds up')
  expect(warnings.join('\n')).not.toMatch(OTHERWISE)
}, 60_000)

test('something beside the region on the target frames alone is no other state', async () => {
  const { warnings } = await search('crate', [60, 61, 62, 63], { beside: true })
  expect(warnings.join('\n')).not.toMatch(OTHERWISE)
}, 60_000)
