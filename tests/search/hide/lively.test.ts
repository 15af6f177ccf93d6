// Planted: something turns in the region and is another picture on every frame, and no frame shows the region with nobody in
// front. Each part of a mosaic lies near what is seen there most often, which is no more than a guess at what the target hides.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-lively-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const FRAMES = 72
const WANTED = [34, 35, 36, 37]
const HUB = { x: BOX.x + BOX.w / 2, y: BOX.y + BOX.h / 2, r: 22 }
const porter = { x: BOX.x + 6, y: BOX.y + 3, w: 58, h: 42, light: 0.9 }

/** Three blades on a hub, darker than the wall; they turn by a part of a turn that no frame repeats soon. */
function fan(index: number, x: number, y: number): number {
  const [u, v] = [x - HUB.x, y - HUB.y]
  if (Math.hypot(u, v) > HUB.r) return 0
  const turn = (3 * (Math.atan2(v, u) - 0.7 * index)) / (2 * Math.PI)
  return turn - Math.floor(turn) < 0.55 ? -1.5 : 0
}

/** Somebody is always in the one half of the region or in the other. */
const passer = (i: number) => ({ x: BOX.x + (i % 12 < 6 ? 4 : 40), y: BOX.y + 2, w: 24, h: 44, light: 0.02 })

test('what a mosaic of it comes to lies where it is expected', async () => {
  const common = { frames: FRAMES, lit: fan }
  const plate = await plantPlate(join(root, 'plate'), {
    ...common,
    occluders: (i) => [WANTED.includes(i) ? porter : passer(i)],
  })
  const bare = await openPlate((await plantPlate(join(root, 'bare'), common)).folder)
  const frames = WANTED.map((i) => plate.frames[i])
  const result = await findDonors({
    target: plate.folder,
    frames,
    box: BOX,
    reach: 4,
    surround: 20,
    keep: 60,
  })
  const mosaic = result.candidates.find((c) => c.kind === 'mosaic')!
  expect(mosaic).toBeDefined()
  const reached = await reachedBy(result, mosaic, bare, BOX)
  const [low, high] = mosaic.interval!
  expect(reached).toBeGreaterThan(low)
  expect(reached).toBeLessThan(high)
}, 60_000)
