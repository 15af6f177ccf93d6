// Footage whose codec carries the picture over from frame to frame and makes it anew now and then: frames of one time have the very
// same errors, those of another time others. Both are empty.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { FIRST, grainOf, HEIGHT, plantPlate, random, WIDTH } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-carried-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 50, y: 36, w: 44, h: 40 }
const WANTED = [72, 73, 74, 75, 76, 77]
/** Frames that are coded without looking at others. */
const ANEW = [0, 34, 68]
const FRAMES = 104
const timeOf = (i: number) => ANEW.filter((from) => from <= i).length
/** Of a codec's errors, stops. */
const ERROR = 0.06
/** Share of the blocks of eight pixels that a frame has anew. */
const RENEWED = 0.1
const BLOCKS = Math.ceil(WIDTH / 8)

function errorAt(i: number, x: number, y: number): number {
  const block = (y >> 3) * BLOCKS + (x >> 3)
  const isRenewed = random(7919 * i + block)() < RENEWED
  return ERROR * grainOf(isRenewed ? 1000 + i : timeOf(i), WIDTH * HEIGHT)[y * WIDTH + x]
}

test('what is nearest is lent from the target’s own time, which most frames are not of, and it holds up', async () => {
  const plate = await plantPlate(join(root, 'shot'), {
    frames: FRAMES,
    noise: 0,
    lit: errorAt,
    // Who comes and goes slowly leaves nothing of that time to be seen next to the target.
    occluders: (i) =>
      i >= 66 && i < 88 ? [{ x: BOX.x + 6 + i - 77, y: BOX.y + 4, w: 32, h: 34, light: 0.9 }] : [],
  })
  const frames = WANTED.map((i) => plate.frames[i])
  const { candidates } = await findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 20 })
  const [first] = candidates
  expect(first.verdict, first.why).toBe('holds up')
  expect(first.clean).toBeGreaterThan(0.985)
  const lenders = first.frames.flatMap((f) => f.pieces ?? f.stack ?? [{ frame: f.donor }])
  for (const { frame } of lenders) expect(timeOf(frame - FIRST)).toBe(timeOf(WANTED[0]))
}, 120_000)

test('somebody who is hardly darker than the wall is no error of a codec', async () => {
  const standing = (i: number) => i >= 40 && i < 60
  const plate = await plantPlate(join(root, 'standing'), {
    frames: FRAMES,
    noise: 0,
    // A quarter of a stop darker, within the region and beyond it.
    lit: (i, x, y) => errorAt(i, x, y) - (standing(i) && x > 60 && x < 84 && y > 40 ? 0.25 : 0),
    occluders: (i) => (WANTED.includes(i) ? [{ x: BOX.x + 6, y: BOX.y + 4, w: 32, h: 34, light: 0.9 }] : []),
  })
  const frames = WANTED.map((i) => plate.frames[i])
  const tries = ['hold-1051', 'hold-1071']
  const { candidates } = await findDonors({
    target: plate.folder,
    frames,
    box: BOX,
    reach: 4,
    surround: 20,
    tries,
  })
  const [stood, empty] = tries.map((id) => candidates.find((c) => c.id === id)!)
  expect(stood.clean).toBeLessThan(0.8)
  expect(empty.clean).toBeGreaterThan(0.985)
}, 120_000)
