// Planted: somebody in a pink coat, as bright as the wall behind, stands round three quarters of the region for a while.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { FIRST, type Occluder, plantPlate } from '../../synthetic.js'
import { evenWall, PINK } from './pink-coat.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-coat-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 65, y: 45, w: 30, h: 30 }
const stops = (f: number) => 0.1 * Math.sin(0.8 * f)

function occluders(f: number): Occluder[] {
  if (f < 8 || f > 15) return []
  const inRegion = { x: BOX.x + 3, y: BOX.y + 3, w: 24, h: 24, light: 0.6 }
  // The coat leaves the right quarter of the ring.
  const coat = { x: 30, y: 10, w: 68, h: 100, light: 0.2, tint: PINK }
  return f >= 10 && f <= 13 ? [coat, inRegion] : [inRegion]
}

test('no frame turns pink: every channel of every frame is right to 0.03 stops', async () => {
  const { folder } = await plantPlate(join(root, 'coat'), { frames: 24, wall: evenWall, stops, occluders })
  const frames = Array.from({ length: 8 }, (_, i) => FIRST + 8 + i)
  const { candidates } = await findDonors({ target: folder, box: BOX, frames })
  expect(candidates.length).toBeGreaterThan(0)
  for (const { frames: matches } of candidates) {
    for (const { target, donor, gain } of matches) {
      const light = stops(target - FIRST) - stops(donor - FIRST)
      for (const g of gain) expect(Math.abs(Math.log2(g) - light)).toBeLessThan(0.03)
    }
  }
}, 60_000)
