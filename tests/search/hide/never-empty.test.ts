// Planted: people pass without a break, so that no frame shows all of the region with nobody in front. What is seen of it
// beside them teaches what may be expected, be the region still or restless.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Occluder } from '../../synthetic.js'
import { plantPlate, random } from '../../synthetic.js'
import { reachedBy } from './reached.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-never-empty-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 44, y: 34, w: 64, h: 44 }
const FRAMES = 44
const WANTED = [21, 22]

/** Somebody is always there: each crosses in 16 frames, and the next comes in as he leaves. */
const passer = (i: number): Occluder => ({
  x: BOX.x - 14 + ((5 * i) % 80),
  y: BOX.y - 6,
  w: 14,
  h: 50,
  light: 0.02,
})
const porter: Occluder = { x: BOX.x + 6, y: BOX.y + 2, w: 52, h: 42, light: 0.9 }

/** Stops by which frame `index` is lit more: another pattern on every frame, on the region and all round it. */
function playing(strength: number): (index: number, x: number, y: number) => number {
  const waves = Array.from({ length: FRAMES }, (_, index) => {
    const even = random(300 + index)
    return Array.from({ length: 3 }, () => [0.4 * (even() - 0.5), 0.4 * (even() - 0.5), 6.28 * even()])
  })
  return (index, x, y) =>
    waves[index].reduce((sum, [kx, ky, phase]) => sum + strength * Math.sin(kx * x + ky * y + phase), 0)
}

describe.each([
  ['still', 0],
  ['restless', 0.05],
] as const)('a region that is %s, with somebody in front of it on every frame', (name, strength) => {
  const search = async () => {
    const common = { frames: FRAMES, lit: playing(strength) }
    const plate = await plantPlate(join(root, name), {
      ...common,
      occluders: (i) => (WANTED.includes(i) ? [porter] : [passer(i)]),
    })
    const bare = await openPlate((await plantPlate(join(root, `${name}-bare`), common)).folder)
    const frames = WANTED.map((i) => plate.frames[i])
    const result = await findDonors({
      target: plate.folder,
      frames,
      box: BOX,
      reach: 4,
      surround: 20,
      keep: 6,
    })
    const reached = await Promise.all(result.candidates.map((c) => reachedBy(result, c, bare, BOX)))
    return { ...result, reached }
  }

  test('has donors that hold up, near the best of them as they are, and is said to have taught by parts', async () => {
    const { candidates, reached, warnings } = await search()
    const up = candidates.flatMap(({ kind, verdict }, i) =>
      verdict === 'holds up' && kind !== 'mosaic' ? [reached[i]] : [],
    )
    expect(up.length).toBeGreaterThan(0)
    for (const db of up) expect(db).toBeGreaterThan(Math.min(46, Math.max(...reached)) - 3)
    expect(warnings.join()).toContain('learnt from parts of it')
  }, 60_000)
})
