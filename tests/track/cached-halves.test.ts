// What of a plate's files is read where the cache has some of it. Truth: the same rectangle read from the files, and a count of what
// the files were asked for.
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, type Plate, readRect } from '../../src/footage/plate.js'
import { readHalves } from '../../src/footage/read-halves.js'
import { writeExr } from '../../src/footage/write/exr.js'
import type { Rect } from '../../src/raster/rect.js'
import { hide } from '../../src/search/hide/find.js'
import { openShot } from '../../src/shot/open-shot.js'
import { cachedHalves } from '../../src/track/cached-halves.js'
import { plantPlate } from '../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-cached-halves-'))
const before = process.env.XDG_CACHE_HOME
afterAll(() => {
  process.env.XDG_CACHE_HOME = before
  rmSync(root, { recursive: true })
})
/** From here on nothing is kept. */
function emptyCache(): void {
  process.env.XDG_CACHE_HOME = mkdtempSync(join(root, 'cache-'))
}

const [WIDTH, HEIGHT] = [320, 240]
const FRAMES = [1001, 1002, 1003]
let exr: string
let png: string
beforeAll(async () => {
  png = (await plantPlate(join(root, 'png'), { width: WIDTH, height: HEIGHT, frames: 12 })).folder
  exr = await asExr(png, join(root, 'exr'))
})

/** The same plate in half floats. */
async function asExr(folder: string, to: string): Promise<string> {
  const plate = await openPlate(folder)
  const full = { x: 0, y: 0, w: plate.width, h: plate.height }
  mkdirSync(to, { recursive: true })
  for (const n of plate.frames)
    await writeExr(join(to, `quay.${n}.exr`), await readRect(plate, n, full), { displayWindow: full })
  return to
}

/** The same plate, and what its files are asked for. */
function watched<P extends Plate>(of: P): { plate: P; asked: { frame: number; rect: Rect }[] } {
  const asked: { frame: number; rect: Rect }[] = []
  const { read, readHalves: halves, readThrough } = of.source
  const source: Plate['source'] = {
    ...of.source,
    read: (n, rect, outside) => {
      asked.push({ frame: n, rect })
      return read(n, rect, outside)
    },
    ...(halves && {
      readHalves: (n, rect) => {
        asked.push({ frame: n, rect })
        return halves(n, rect)
      },
    }),
    ...(readThrough && {
      readThrough: (n, rect, table) => {
        asked.push({ frame: n, rect })
        return readThrough(n, rect, table)
      },
    }),
  }
  return { plate: { ...of, source }, asked }
}

async function all(reading: AsyncIterable<{ frame: number; picture?: Uint16Array; error?: Error }>) {
  const found = new Map<number, Uint16Array | string>()
  for await (const { frame: n, picture, error } of reading)
    found.set(n, picture ? picture.slice() : error!.message)
  return new Map([...found].sort(([a], [b]) => a - b))
}

const RECT = { x: 100, y: 80, w: 90, h: 70 }
const moved = (dx: number, dy: number) => ({ ...RECT, x: RECT.x + dx, y: RECT.y + dy })
const grown = (by: number) => ({ x: RECT.x - by, y: RECT.y - by, w: RECT.w + 2 * by, h: RECT.h + 2 * by })

describe('of half floats in EXR files, after one rectangle, another', () => {
  const cases = [
    { title: 'moved sideways is not read', rect: moved(60, 0), rows: 0 },
    { title: 'moved back sideways is not read', rect: moved(-64, 0), rows: 0 },
    { title: 'moved down has its new rows read', rect: moved(0, 21), rows: 21 },
    { title: 'moved up and left has its new rows read', rect: moved(-33, -30), rows: 30 },
    { title: 'grown on all sides has its rows above and below read', rect: grown(18), rows: 36 },
    { title: 'shrunk is not read', rect: grown(-10), rows: 0 },
    { title: 'moved sideways beyond the room is read whole', rect: moved(65, 0), rows: RECT.h },
    { title: 'moved down by more than half is read whole', rect: moved(0, 40), rows: RECT.h },
  ]
  test.each(cases)('$title', async ({ rect, rows }) => {
    emptyCache()
    const { plate, asked } = watched(await openPlate(exr))
    await all(cachedHalves(plate, FRAMES, RECT))
    expect(asked.map((a) => a.rect.h)).toEqual(FRAMES.map(() => RECT.h))
    asked.length = 0
    const found = await all(cachedHalves(plate, FRAMES, rect))
    const read = (n: number) => asked.reduce((sum, a) => sum + (a.frame === n ? a.rect.h : 0), 0)
    expect(FRAMES.map(read)).toEqual(FRAMES.map(() => rows))
    expect(found).toEqual(await all(readHalves(await openPlate(exr), FRAMES, rect)))
    // And from then on it is there.
    asked.length = 0
    expect(await all(cachedHalves(plate, FRAMES, rect))).toEqual(found)
    expect(asked).toEqual([])
  })
})

test.each([
  { how: 'decoded whole', downwards: false, found: [moved(50, -60), grown(40)], lost: moved(0, 65) },
  { how: 'decoded from the top', downwards: true, found: [moved(50, -60), grown(16)], lost: moved(0, 17) },
])(
  'of files that are $how a rectangle has room on all sides, and rows are never put together',
  async ({ downwards, found, lost }) => {
    emptyCache()
    const opened = await openPlate(png)
    const { plate, asked } = watched({ ...opened, source: { ...opened.source, downwards } })
    await all(cachedHalves(plate, FRAMES, RECT))
    asked.length = 0
    for (const rect of found)
      expect(await all(cachedHalves(plate, FRAMES, rect))).toEqual(
        await all(readHalves(await openPlate(png), FRAMES, rect)),
      )
    expect(asked).toEqual([])
    await all(cachedHalves(plate, FRAMES, lost))
    expect(asked).toHaveLength(FRAMES.length)
  },
)

test('stills are decoded from the top', async () => {
  expect((await openPlate(png)).source).toMatchObject({ byRows: false, downwards: true })
  expect((await openPlate(exr)).source).toMatchObject({ byRows: true, downwards: false })
})

describe('a file that has changed since', () => {
  const own = (name: string) => join(root, name)
  const copied = async (name: string) => {
    emptyCache()
    const folder = mkdtempSync(own(name))
    const plate = await openPlate(exr)
    for (const n of FRAMES) copyFileSync(plate.pathOf(n), join(folder, `quay.${n}.exr`))
    const copy = watched(await openPlate(folder))
    await all(cachedHalves(copy.plate, FRAMES, RECT))
    copy.asked.length = 0
    return copy
  }

  test('is read whole, the others are not', async () => {
    const { plate, asked } = await copied('again-')
    const path = plate.pathOf(1002)
    writeFileSync(path, readFileSync(path))
    const rect = moved(0, 10)
    const found = await all(cachedHalves(plate, FRAMES, rect))
    const read = (n: number) => asked.reduce((sum, a) => sum + (a.frame === n ? a.rect.h : 0), 0)
    expect(FRAMES.map(read)).toEqual([10, RECT.h, 10])
    expect(found).toEqual(await all(readHalves(plate, FRAMES, rect)))
  })

  test('and is broken comes with its error', async () => {
    const { plate } = await copied('broken-')
    truncateSync(plate.pathOf(1003), 400)
    const found = await all(cachedHalves(plate, FRAMES, grown(9)))
    expect([...found.values()].map((v) => typeof v)).toEqual(['object', 'object', 'string'])
    expect(found.get(1003)).toContain('1003.exr')
  })
})

test('a search whose region was moved and grown reads a fraction of the plate, and finds what one finds that reads it all', async () => {
  const folder = await asExr(
    (
      await plantPlate(join(root, 'searched-png'), {
        width: WIDTH,
        height: HEIGHT,
        frames: 16,
        occluders: (f) => (f > 3 && f < 7 ? [{ x: 150, y: 100, w: 14, h: 26, light: 0.02 }] : []),
      })
    ).folder,
    join(root, 'searched'),
  )
  const request = { target: folder, frames: '1005-1007', reach: 4, surround: 12 }
  const search = async (box: Rect) => {
    const shot = await openShot({ ...request, box })
    const { plate, asked } = watched(shot.plates[0])
    const plates = [plate, ...shot.plates.slice(1)] as const
    let found = ''
    for await (const event of hide({ ...shot, plates }))
      if (event.kind === 'done') found = JSON.stringify(event.result)
    return { found, pixels: asked.reduce((sum, { rect }) => sum + rect.w * rect.h, 0) }
  }
  const drawn = { x: 144, y: 96, w: 26, h: 32 }
  const changed = { x: 138, y: 98, w: 36, h: 36 }
  emptyCache()
  const first = await search(drawn)
  const second = await search(changed)
  emptyCache()
  const fresh = await search(changed)
  expect(second.found).toBe(fresh.found)
  expect(second.pixels).toBeLessThan(0.35 * fresh.pixels)
  expect(second.pixels).toBeLessThan(0.35 * first.pixels)
  // Searched again, nothing is.
  emptyCache()
  await search(drawn)
  expect((await search(drawn)).pixels).toBe(0)
})
