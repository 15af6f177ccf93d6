// What is read again of a frame while it is kept: the same samples, from the file once.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { openPlate, type Plate, readCodeRect, readRect } from '../../src/footage/plate.js'
import { keepRects } from '../../src/footage/read-many.js'
import { RecentRects } from '../../src/footage/recent-rects.js'
import { writeExr } from '../../src/footage/write/exr.js'
import { type Frame, frame } from '../../src/raster/frame.js'
import type { Rect } from '../../src/raster/rect.js'
import { randomFrom } from '../random.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-recent-'))
afterAll(() => rmSync(folder, { recursive: true }))

const WHOLE = { x: 0, y: 0, w: 96, h: 64 }
/** What there is of the display window. */
const DATA = { x: 0, y: 0, w: 80, h: 64 }
let plate: Plate
let untouched: Plate

beforeAll(async () => {
  const random = randomFrom('recent')
  for (const number of [1001, 1002]) {
    const picture = frame(DATA.h, DATA.w, 3)
    for (let i = 0; i < picture.data.length; i++) picture.data[i] = random()
    await writeExr(join(folder, `wall.${number}.exr`), picture, { displayWindow: WHOLE })
  }
  plate = await openPlate(folder)
  untouched = await openPlate(folder)
})

/** Frames that are read through one, with how often and where they were loaded. */
function counted(
  frames: readonly number[],
  within: Rect,
): { recent: RecentRects; loads: Rect[]; read: (n: number, r: Rect) => Promise<Frame> } {
  const recent = new RecentRects(new Set(frames), within)
  const loads: Rect[] = []
  const load = (n: number) => async (rect: Rect) => {
    loads.push(rect)
    const out = frame(rect.h, rect.w, 3)
    for (let y = 0, i = 0; y < rect.h; y++)
      for (let x = 0; x < rect.w; x++, i += 3) out.data.set([rect.x + x, rect.y + y, n], i)
    return out
  }
  return { recent, loads, read: (n, rect) => recent.read(n, rect, 0, load(n)) }
}

test('parts of a kept frame are what they are without keeping, inside and outside the data window, as often as they are read', async () => {
  const release = await keepRects(plate, [1001, 1002], { x: 8, y: 8, w: 88, h: 50 })
  const parts: Rect[] = [
    { x: 30, y: 20, w: 40, h: 20 },
    { x: 31, y: 19, w: 40, h: 20 },
    { x: 60, y: 30, w: 36, h: 28 },
    { x: 8, y: 8, w: 88, h: 50 },
    { x: 0, y: 0, w: 20, h: 20 },
    WHOLE,
  ]
  for (let round = 0; round < 2; round++)
    for (const number of [1002, 1001])
      for (const part of parts) {
        expect((await readRect(plate, number, part)).data).toEqual(
          (await readRect(untouched, number, part)).data,
        )
        expect((await readCodeRect(plate, number, part)).data).toEqual(
          (await readCodeRect(untouched, number, part)).data,
        )
      }
  await release()
})

test('a frame that was kept is read from its file again afterwards, and what was handed out is the reader’s own', async () => {
  const part = { x: 4, y: 4, w: 10, h: 10 }
  const release = await keepRects(plate, [1001], part)
  const first = await readRect(plate, 1001, part)
  const samples = first.data.slice()
  first.data.fill(7)
  expect((await readRect(plate, 1001, part)).data).toEqual(samples)
  const path = plate.pathOf(1001)
  writeFileSync(path, '')
  expect((await readRect(plate, 1001, part)).data).toEqual(samples)
  await release()
  await expect(readRect(plate, 1001, part)).rejects.toMatchObject({ code: 'FRAME_UNREADABLE' })
})

test('a part that moves by a pixel or some is loaded once, one beyond that again', async () => {
  const { loads, read } = counted([5], { x: 0, y: 0, w: 500, h: 500 })
  const [one] = [await read(5, { x: 100, y: 100, w: 50, h: 40 })]
  expect([...one.data.subarray(0, 6)]).toEqual([100, 100, 5, 101, 100, 5])
  const moved = await read(5, { x: 97, y: 108, w: 50, h: 40 })
  expect([...moved.data.subarray(0, 3)]).toEqual([97, 108, 5])
  expect(loads).toEqual([{ x: 92, y: 92, w: 66, h: 56 }])
  await read(5, { x: 91, y: 100, w: 50, h: 40 })
  expect(loads).toHaveLength(2)
})

test('it holds the frames and the rectangle that it was made for, and no others', () => {
  const { recent } = counted([5], { x: 10, y: 10, w: 50, h: 50 })
  expect(recent.holds(5, { x: 10, y: 10, w: 50, h: 50 })).toBe(true)
  expect(recent.holds(5, { x: 9, y: 10, w: 50, h: 50 })).toBe(false)
  expect(recent.holds(6, { x: 10, y: 10, w: 5, h: 5 })).toBe(false)
})

test('where there is no room for all, the one that was used longest ago goes', async () => {
  const within = { x: 0, y: 0, w: 2000, h: 2000 }
  const numbers = Array.from({ length: 5 }, (_, i) => i)
  const { loads, read } = counted(numbers, within)
  // 27 MiB each: four fit into 128
  const part = { x: 100, y: 100, w: 1500, h: 1500 }
  for (const n of [0, 1, 2, 3]) await read(n, part)
  await read(0, part)
  await read(4, part)
  expect(loads).toHaveLength(5)
  await read(0, part)
  expect(loads).toHaveLength(5)
  await read(1, part)
  expect(loads).toHaveLength(6)
})

test('what could not be read is tried again', async () => {
  const recent = new RecentRects(new Set([1]), WHOLE)
  const part = { x: 0, y: 0, w: 4, h: 4 }
  await expect(recent.read(1, part, 0, async () => Promise.reject(new Error('not yet')))).rejects.toThrow(
    'not yet',
  )
  expect((await recent.read(1, part, 0, async (r) => frame(r.h, r.w, 3))).shape).toEqual([4, 4, 3])
})
