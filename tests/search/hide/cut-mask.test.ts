// A mask that cuts somebody off is told; one that fits is not, nor is what stands still or passes elsewhere. Planted truth.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Result } from '../../../src/search/result.js'
import { type Occluder, plantPlate } from '../../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-cut-'))
afterAll(() => rmSync(folder, { recursive: true }))

/** Walks 3 px a frame along the middle of the frame, from 1011 to 1018, 30 px tall. */
const walker = (i: number): Occluder => ({ x: 44 + 3 * (i - 10), y: 30, w: 14, h: 30, light: 0.03 })
const there = (i: number) => i >= 10 && i <= 17
let n = 0

async function search(
  box: { x: number; y: number; w: number; h: number },
  others: (i: number) => readonly Occluder[] = () => [],
  more: { grow?: number; sway?: (i: number) => readonly [number, number] } = {},
): Promise<Result> {
  const plate = await plantPlate(join(folder, `case${n++}`), {
    width: 128,
    height: 96,
    frames: 40,
    sway: more.sway,
    occluders: (i) => [...(there(i) ? [walker(i)] : []), ...others(i)],
  })
  const asked = { target: plate.folder, frames: '1011-1018', box, reach: 6, surround: 20, keep: 1 }
  return findDonors({ ...asked, grow: more.grow })
}

async function cuts(...asked: Parameters<typeof search>): Promise<string[]> {
  const { warnings, cuts: found = [] } = await search(...asked)
  const said = warnings.filter((w) => w.includes('left standing'))
  expect(said).toHaveLength(found.length)
  return said
}

/** Round all of the walk, with 2 px to spare. */
const FITS = { x: 42, y: 28, w: 39, h: 34 }

test('feet that the mask cuts off are told with their frames, the side, and what it takes', async () => {
  // 6 px of the walker lie below it.
  const said = await cuts({ ...FITS, h: 26 })
  expect(said).toHaveLength(1)
  expect(said[0]).toMatch(
    /^on 1011-1018 something crosses the lower edge of the mask and moves with what is inside/,
  )
  const px = Number(/grow the mask by (\d+) px/.exec(said[0])![1])
  expect(px).toBeGreaterThanOrEqual(6)
  expect(px).toBeLessThanOrEqual(8)
  // What it takes, it takes.
  expect(await cuts({ ...FITS, h: 26 }, undefined, { grow: px })).toEqual([])
}, 60_000)

test('a walker who leaves the mask at its right is told on those frames', async () => {
  const [said, ...others] = await cuts({ ...FITS, w: 26 })
  expect(others).toEqual([])
  // On 1011 to 1014 all of the walker is inside; from 1016 on 5 px and more are not.
  expect(said).toMatch(/^on 101[56]-1018 something crosses the right edge/)
}, 30_000)

test('a swaying camera makes no cut of a mask that fits, and hides none', async () => {
  const sway = (i: number) => [1.6 * Math.sin(i), 1.2 * Math.cos(1.3 * i)] as const
  expect(await cuts({ x: 40, y: 26, w: 43, h: 38 }, undefined, { sway })).toEqual([])
  const said = await cuts({ x: 40, y: 26, w: 43, h: 28 }, undefined, { sway })
  expect(said).toHaveLength(1)
  expect(said[0]).toContain('the lower edge')
}, 60_000)

test.each<[string, (i: number) => readonly Occluder[]]>([
  ['a mask that fits', () => []],
  [
    'a second walker, who passes below',
    (i) => (there(i) ? [{ x: 100 - 6 * (i - 10), y: 68, w: 10, h: 12, light: 0.5 }] : []),
  ],
  [
    'a crate across the edge that stands there all the while',
    (i) => (i >= 6 && i <= 24 ? [{ x: 72, y: 56, w: 20, h: 12, light: 0.6 }] : []),
  ],
])(
  '%s is no cut',
  async (_, others) => {
    expect(await cuts(FITS, others)).toEqual([])
  },
  30_000,
)

test('what is cut off is kept with each frame’s place in the plate, however the camera sways', async () => {
  const sway = (i: number) => [2.6 * Math.sin(i), 1.7 * Math.cos(1.3 * i)] as const
  for (const camera of [undefined, sway]) {
    const { cuts } = await search({ x: 40, y: 26, w: 43, h: 28 }, undefined, { sway: camera })
    expect(cuts).toHaveLength(1)
    expect(cuts![0]).toMatchObject({ side: 'lower', open: false })
    const { frames } = cuts![0]
    expect(frames.map(({ frame }) => frame)).toEqual([1011, 1012, 1013, 1014, 1015, 1016, 1017, 1018])
    for (const { frame, px, box } of frames) {
      const truth = walker(frame - 1001)
      // From 54, where the mask ends, and the two pixels next to it, to the walker's feet; each found to the mean of 3 x 3.
      const wanted = [truth.x, 56, truth.x + truth.w, truth.y + truth.h]
      const [x, y, w, h] = box
      for (const [k, edge] of [x, y, x + w, y + h].entries())
        expect(Math.abs(edge - wanted[k])).toBeLessThanOrEqual(3)
      expect(Math.abs(px - (truth.y + truth.h - 54))).toBeLessThanOrEqual(2)
    }
  }
}, 60_000)

test('a mask that fits has no cut', async () => {
  expect(await search(FITS)).not.toHaveProperty('cuts')
}, 30_000)
