// Planted: somebody stands in one quarter of the region or in another on every frame, so that none shows all of it with nobody
// in front, while the wall behind stands still or turns. What each part shows when it is empty is known, and with it the truth.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import { VALID } from '../../../src/match/log-luminance.js'
import { IDENTITY } from '../../../src/raster/transform.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { evenCells, partAt } from '../../../src/search/hide/region-parts.js'
import { RegionView } from '../../../src/search/hide/region-view.js'
import { ownChange } from '../../../src/search/hide/unoccupied.js'
import type { Registered } from '../../../src/search/register.js'
import { atOnce } from '../../../src/turns.js'
import { randomFrom } from '../../random.js'
import { plantPlate, random } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-parts-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 70, h: 48 }
const FRAMES = 72
const WANTED = [34, 35, 36, 37]
const HUB = { x: BOX.x + BOX.w / 2, y: BOX.y + BOX.h / 2, r: 22 }
const UNTAUGHT = /too few frames/

const porter = { x: BOX.x + 6, y: BOX.y + 3, w: 58, h: 42, light: 0.9 }
const passer = (i: number) => ({
  x: BOX.x + 2 + 17 * (Math.floor(i / 3) % 4),
  y: BOX.y + 2,
  w: 15,
  h: 44,
  light: 0.02 + 0.01 * (i % 5),
})

/** Three blades, darker than the wall, that turn by a part of a turn which no frame repeats soon. */
function fan(index: number, x: number, y: number): number {
  const [u, v] = [x - HUB.x, y - HUB.y]
  if (Math.hypot(u, v) > HUB.r) return 0
  const turn = (3 * (Math.atan2(v, u) - 0.7 * index)) / (2 * Math.PI)
  return turn - Math.floor(turn) < 0.55 ? -0.6 : 0
}

async function searched(name: string, common: Parameters<typeof plantPlate>[1]) {
  const plate = await plantPlate(join(root, name), {
    frames: FRAMES,
    ...common,
    occluders: (i) => [WANTED.includes(i) ? porter : passer(i)],
  })
  const bare = await openPlate(
    (await plantPlate(join(root, `${name}-bare`), { frames: FRAMES, ...common })).folder,
  )
  const frames = WANTED.map((i) => plate.frames[i])
  const result = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  return { result, bare }
}

describe('where no frame shows all of the region', () => {
  test('its parts teach: what is expected of a mosaic is near what it comes to, and it holds up', async () => {
    const { result, bare } = await searched('still', {})
    expect(result.warnings.filter((w) => UNTAUGHT.test(w))).toEqual([])
    const [first] = result.candidates
    expect(first).toMatchObject({ kind: 'mosaic', verdict: 'holds up' })
    const reached = await reachedBy(result, first, bare, BOX)
    const [low, high] = first.interval!
    expect(reached).toBeGreaterThan(low)
    expect(reached).toBeLessThan(high)
    // Half of what made scenes that taught nothing are off by: 30 dB between both ends.
    expect(high - low).toBeLessThan(15)
  }, 60_000)

  test('a part that is never still teaches so: nothing of it holds up', async () => {
    const { result } = await searched('fan', { lit: fan })
    expect(result.warnings.filter((w) => UNTAUGHT.test(w))).toEqual([])
    expect(result.candidates.filter(({ verdict }) => verdict === 'holds up').map(({ id }) => id)).toEqual([])
  }, 60_000)
})

describe('cells of a mask', () => {
  const [w, h] = [40, 30]
  const even = random(5)
  const weights = Float32Array.from({ length: w * h }, (_, i) =>
    Math.hypot((i % w) - 22, Math.floor(i / w) - 13) < 12 ? 0.2 + 0.8 * even() : 0,
  )
  const pixels = Int32Array.from(weights.keys()).filter((i) => weights[i] > 0)
  const own = Float32Array.from(pixels, (i) => weights[i])
  const cells = evenCells(pixels, own, { w, h })

  test('each pixel lies in one of them, and in no other box', () => {
    const of = new Int32Array(pixels.length).fill(-1)
    for (const [c, { places }] of cells.entries())
      for (const k of places) {
        expect(of[k]).toBe(-1)
        of[k] = c
      }
    const boxes = cells.map(({ box }) => box)
    for (const [k, i] of pixels.entries()) expect(partAt(boxes, i % w, Math.floor(i / w))).toBe(of[k])
    expect(boxes.reduce((sum, box) => sum + box.w * box.h, 0)).toBe(w * h)
  })

  test('they weigh the same, but for a line that lies across', () => {
    const all = own.reduce((a, b) => a + b, 0)
    for (const { places } of cells)
      expect(Math.abs(places.reduce((sum, k) => sum + own[k], 0) / all - 1 / 9)).toBeLessThan(0.03)
  })

  test('of a handful of pixels there are none', () => {
    expect(evenCells(pixels.slice(0, 60), own.slice(0, 60), { w, h })).toEqual([])
  })
})

test('what changes by itself is told from what people pass: they leave most frames as they are', () => {
  const size = 64
  const noise = randomFrom('own change')
  const level = new Float32Array(size).fill(-3)
  const frames = Array.from({ length: 60 }, (_, f): Registered => {
    const aligned = level.map((v, i) => {
      const grain = 0.01 * (noise() - 0.5)
      if (i < 16) return v + grain + 0.5 * Math.sin(2.3 * f)
      return v + grain + (i < 32 && f % 10 < 3 ? 0.8 + 0.1 * (f % 7) : 0)
    })
    const validity = new Uint8Array(size).fill(VALID)
    return { plate: 0, frame: f, pose: IDENTITY, aligned, validity, exposure: 0, held: true }
  })
  const spread = new Float32Array(size).fill(0.01)
  const cleanPlate = {
    level,
    spread,
    scatter: new Float32Array(level.length),
    support: new Float32Array(size).fill(1),
  }
  const inside = Float32Array.from({ length: size }, (_, i) => (i < 48 ? 1 : 0))
  const view = new RegionView(
    new Workspace(),
    { inside, surround: inside.map((v) => 1 - v) },
    frames,
    { cleanPlate, window: { x: 0, y: 0, w: 8, h: 8 }, minSpread: 0.01 },
    spread,
  )
  atOnce(view.prepare(new Map(frames.map((f) => [f, new Uint8Array(size).fill(1)]))))
  const change = ownChange(view)
  for (const [k, i] of view.list.own.entries())
    if (i < 16) expect(change[k]).toBeGreaterThan(0.5)
    else expect(change[k]).toBe(0)
})
