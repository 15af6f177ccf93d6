import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { findBorrow } from '../../src/search/borrow/borrow.js'
import { findDonors } from '../../src/search/hide/find.js'
import type { Result } from '../../src/search/result.js'
import { type Planted, plantPlate, texturedWall } from '../synthetic.js'
import { patch, plantShade, type ShadedPlate } from './shaded.js'

let folder: string
/** Two of one size, whose buffers would fit into each other's, and one of another. */
let wall: Planted
let fence: Planted
let shade: ShadedPlate
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-at-once-'))
  const walk = (speed: number) => (i: number) => [{ x: speed * i - 24, y: 34, w: 22, h: 44, light: 0.04 }]
  wall = await plantPlate(join(folder, 'wall'), {
    frames: 28,
    sway: (i) => [1.9 * Math.sin(i * 0.9), 1.3 * Math.cos(i * 1.7)],
    stops: (i) => 0.2 * Math.sin(i / 4),
    occluders: walk(7),
  })
  fence = await plantPlate(join(folder, 'fence'), {
    frames: 26,
    wall: texturedWall(9),
    sway: (i) => [0.7 * Math.cos(i), 0.4 * Math.sin(i * 1.3)],
    occluders: walk(6),
    start: 77,
  })
  shade = await plantShade(join(folder, 'shade'), {
    shades: [patch({ stops: -0.6, peak: 23, x: 78, y: 58 })],
  })
}, 30_000)
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 60, y: 30, w: 30, h: 50 }
const hideOn = (plate: Planted) => () =>
  findDonors({ target: plate.folder, frames: '1013-1017', box: BOX, reach: 8, keep: 40 })
const searches: Record<string, () => Promise<Result>> = {
  'on the wall': () => hideOn(wall)(),
  'on the fence': () => hideOn(fence)(),
  'for a shadow': () =>
    findBorrow({ target: shade.folder, frames: '1003-1011', box: { x: 56, y: 40, w: 44, h: 36 } }),
}

test.each([
  ['on the wall', 'on the fence'],
  ['on the wall', 'on the wall'],
  ['on the wall', 'for a shadow'],
])(
  'a search %s and one %s at once find, to the last bit, what each finds alone',
  async (a, b) => {
    const alone = [await searches[a](), await searches[b]()]
    for (const { candidates } of alone) expect(candidates.length).toBeGreaterThan(0)
    const together = await Promise.all([searches[a](), searches[b]()])
    expect(together.map((r) => JSON.stringify(r))).toEqual(alone.map((r) => JSON.stringify(r)))
  },
  60_000,
)
