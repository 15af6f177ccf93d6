// Planted: light that plays over the region and is another one on every frame, as under leaves. Pieces that lie near what
// most frames show there do so by choice, and are no nearer to what the target shows.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { plantPlate, random } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-restless-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const FRAMES = 60
const WANTED = [28, 29, 30]

/** Stops by which frame `index` is lit more at a place of the region, fading out towards its edge. */
function playing(strength: number): (index: number, x: number, y: number) => number {
  const waves = Array.from({ length: FRAMES }, (_, index) => {
    const even = random(100 + index)
    return Array.from({ length: 3 }, () => [0.5 * (even() - 0.5), 0.5 * (even() - 0.5), 6.28 * even()])
  })
  return (index, x, y) => {
    const u = (x - BOX.x) / BOX.w
    const v = (y - BOX.y) / BOX.h
    if (u < 0 || v < 0 || u > 1 || v > 1) return 0
    let sum = 0
    for (const [kx, ky, phase] of waves[index]) sum += Math.sin(kx * x + ky * y + phase)
    return strength * sum * 16 * u * (1 - u) * v * (1 - v)
  }
}

const porter = { x: BOX.x + 8, y: BOX.y + 4, w: 54, h: 40, light: 0.9 }
const passer = (i: number) => ({ x: BOX.x + 10 + (i % 30), y: BOX.y + 4, w: 16, h: 40, light: 0.02 })

test('a mosaic of it is not expected to be nearer than it is', async () => {
  const common = { frames: FRAMES, lit: playing(0.15) }
  const plate = await plantPlate(join(root, 'plate'), {
    ...common,
    occluders: (i) => (WANTED.includes(i) ? [porter] : i % 5 === 0 ? [passer(i)] : []),
  })
  const bare = await openPlate((await plantPlate(join(root, 'bare'), common)).folder)
  const frames = WANTED.map((i) => plate.frames[i])
  const result = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  const mosaic = result.candidates.find((c) => c.kind === 'mosaic')!
  expect(mosaic).toBeDefined()
  const reached = await reachedBy(result, mosaic, bare, BOX)
  expect(mosaic.expected! - reached).toBeLessThan(4)
}, 60_000)
