// Planted plates whose camera is known: does the search know where it looked, and does it say where it can't?
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Result } from '../../../src/search/result.js'
import { FIRST, type Planted, plantPlate, texturedWall, type Wall } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-camera-'))
afterAll(() => rmSync(root, { recursive: true }))

const SIZE = { width: 320, height: 240 }
const BOX = { x: 260, y: 180, w: 30, h: 30 }
const TARGETS = [FIRST + 7, FIRST + 8, FIRST + 9]
/** Somebody in the region on the target's frames. */
const occluders = (f: number) =>
  f >= 7 && f <= 9 ? [{ x: BOX.x + f - 6, y: BOX.y + 4, w: 20, h: 22, light: 0.6 }] : []
const sway = (f: number) => [3 * Math.sin(0.9 * f), 2 * Math.cos(0.7 * f)] as const
const wall = texturedWall(9)
/** A wall in the far corner of the frame, and a bare floor for the rest of it. */
const floor: Wall = (x, y) => (x < 150 && y < 85 ? wall(x, y) : 0.2)

async function search(name: string, options: Parameters<typeof plantPlate>[1]) {
  const planted = await plantPlate(join(root, name), {
    ...SIZE,
    frames: 16,
    noise: 0.01,
    occluders,
    ...options,
  })
  const result = await findDonors({ target: planted.folder, box: BOX, frames: TARGETS })
  return { planted, result }
}

/** Largest error of an offset, pixels, over all that is proposed. */
function worstOffset({ sway: at }: Planted, { candidates }: Result): number {
  const errors = candidates.flatMap((c) =>
    c.frames.map(({ target, donor, dx, dy }) => {
      const [to, from] = [at(target), at(donor)]
      return Math.hypot(dx - (to[0] - from[0]), dy - (to[1] - from[1]))
    }),
  )
  return Math.max(...errors)
}

describe('on a bare floor', () => {
  test('with a wall far off in the frame, a camera that sways is followed by the wall', async () => {
    const { planted, result } = await search('floor', { wall: floor, sway })
    expect(result.candidates.length).toBeGreaterThan(0)
    expect(worstOffset(planted, result)).toBeLessThan(0.05)
    expect(result.warnings).toEqual([])
  }, 60_000)

  test('with nothing else in the frame nobody can tell, and that is said: nothing holds up where few frames are empty', async () => {
    const { result } = await search('bare', { wall: () => 0.2, sway, frames: 10 })
    expect(result.candidates.length).toBeGreaterThan(0)
    expect(result.candidates.map((c) => c.verdict)).not.toContain('holds up')
    expect(result.warnings.join()).toContain('nothing in the frame tells whether the camera moved')
  }, 60_000)

  test('where many are, what they come to is what a donor comes to: it holds up, and is said to lie as it lay', async () => {
    const { result } = await search('bare-and-empty', { wall: () => 0.2, frames: 40 })
    expect(result.candidates[0].verdict).toBe('holds up')
    expect(result.warnings.join()).toContain('nothing in the frame tells whether the camera moved')
    for (const { frames } of result.candidates)
      for (const { dx, dy } of frames) expect({ dx, dy }).toEqual({ dx: 0, dy: 0 })
  }, 60_000)

  test('with a picture behind who must go, and nowhere else, a camera that sways is not known, and nothing holds up', async () => {
    const within = (x: number, y: number) => x > 264 && x < 286 && y > 184 && y < 206
    const picture: Wall = (x, y) => (within(x, y) ? wall(x, y) : 0.2)
    const { result } = await search('picture', { wall: picture, sway, frames: 40 })
    expect(result.candidates.length).toBeGreaterThan(0)
    expect(result.candidates.map((c) => c.verdict)).not.toContain('holds up')
  }, 60_000)
})

test('a camera that stands still on a textured wall is locked off: no offset, and no doubt of it', async () => {
  const { result } = await search('still', { wall })
  expect(result.candidates[0].verdict).toBe('holds up')
  for (const { frames } of result.candidates)
    for (const { dx, dy } of frames) expect({ dx, dy }).toEqual({ dx: 0, dy: 0 })
  expect(result.warnings).toEqual([])
}, 60_000)

test('of a camera that panned past, frames that show another place lend nothing', async () => {
  // Of so many waves that no other place is like this one by chance.
  const parts = [9, 10, 11, 12].map((start) => texturedWall(start))
  const manifold: Wall = (x, y) => 0.2 * parts.reduce((light, part) => light * Math.sqrt(part(x, y) / 0.2), 1)
  const { result } = await search('pan', { wall: manifold, sway: (f) => [f < 12 ? 0 : 40 * (f - 11), 0] })
  const lenders = new Set(result.candidates.flatMap((c) => c.frames.map((m) => m.donor)))
  expect(lenders.size).toBeGreaterThan(0)
  expect(Math.max(...lenders)).toBeLessThan(FIRST + 12)
}, 60_000)

test('a second take from a little further left is laid over by what it was moved', async () => {
  const first = await plantPlate(join(root, 'take-1'), { ...SIZE, frames: 16, wall, noise: 0.01, occluders })
  const second = await plantPlate(join(root, 'take-2'), {
    ...SIZE,
    frames: 3,
    wall,
    noise: 0.01,
    start: 5,
    sway: () => [4.3, -2.1],
  })
  const result = await findDonors({
    target: first.folder,
    box: BOX,
    frames: TARGETS,
    donors: [second.folder],
  })
  const matches = result.candidates.flatMap((c) => c.frames.filter((m) => m.plate === 1))
  expect(matches.length).toBeGreaterThan(0)
  for (const { dx, dy } of matches) expect(Math.hypot(dx + 4.3, dy - 2.1)).toBeLessThan(0.05)
}, 60_000)
