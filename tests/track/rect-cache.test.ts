import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import { openPlate, type Plate } from '../../src/footage/plate.js'
import { findDonors } from '../../src/search/hide/find.js'
import { pruneRectCache, RectCache } from '../../src/track/rect-cache.js'
import { plantPlate } from '../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-rects-'))
afterAll(() => rmSync(root, { recursive: true }))

const RECT = { x: 4, y: 6, w: 20, h: 10 }
let number = 0
let cacheFolder: string
let plate: Plate
let cache: RectCache
beforeEach(async () => {
  const name = `p${number++}`
  cacheFolder = join(root, `${name}-cache`)
  const planted = await plantPlate(join(root, name), { width: 48, height: 36, frames: 4 })
  plate = await openPlate(planted.folder)
  cache = new RectCache(plate, RECT, cacheFolder)
})

const halves = () => Uint16Array.from({ length: RECT.w * RECT.h * 3 }, (_, i) => (i * 37) % 65536)

describe('a kept rectangle', () => {
  beforeEach(async () => cache.put(1002, await cache.stamp(1002), halves()))

  test('comes back bit by bit', async () => {
    expect(await cache.get(1002)).toEqual(halves())
    expect(await cache.get(1003)).toBeNull()
  })

  test('serves a smaller one that it holds', async () => {
    const inner = { x: RECT.x + 3, y: RECT.y + 2, w: 5, h: 4 }
    const found = await new RectCache(plate, inner, cacheFolder).get(1002)
    const all = halves()
    const wanted = Array.from({ length: inner.w * inner.h * 3 }, (_, i) => {
      const [y, x] = [Math.floor(i / (inner.w * 3)), i % (inner.w * 3)]
      return all[(y + 2) * RECT.w * 3 + 9 + x]
    })
    expect([...found!]).toEqual(wanted)
  })

  test('is another one for another rectangle, encoding or plate', async () => {
    const moved = new RectCache(plate, { ...RECT, x: RECT.x + 1 }, cacheFolder)
    const decoded = new RectCache(await openPlate(plate.spec, { encoding: 'rec709' }), RECT, cacheFolder)
    expect(await moved.get(1002)).toBeNull()
    expect(await decoded.get(1002)).toBeNull()
  })

  test('is not believed when the frame file was written again, even at the same size and time', async () => {
    const path = plate.pathOf(1002)
    const { atime, mtime } = statSync(path)
    writeFileSync(path, readFileSync(path))
    utimesSync(path, atime, mtime)
    expect(await cache.get(1002)).toBeNull()
  })

  test('is not believed when it was cut off', async () => {
    const [folder] = readdirSync(cacheFolder)
    const kept = join(cacheFolder, folder, '1002.half')
    writeFileSync(kept, readFileSync(kept).subarray(0, 100))
    expect(await cache.get(1002)).toBeNull()
  })
})

describe('a kept rectangle of which one bit has flipped', () => {
  const HALVES = RECT.w * RECT.h * 3 * 2
  test.each([
    { where: 'in the first sample', at: 0 },
    { where: 'in the last sample', at: HALVES - 1 },
    { where: 'in the state of the frame file', at: HALVES + 5 },
    { where: 'in the checksum itself', at: HALVES + 32 + 3 },
  ])('$where is not believed, and gives way to a good one', async ({ at }) => {
    await cache.put(1002, await cache.stamp(1002), halves())
    const [folder] = readdirSync(cacheFolder)
    const kept = join(cacheFolder, folder, '1002.half')
    const bytes = readFileSync(kept)
    bytes[at] ^= 0x10
    writeFileSync(kept, bytes)
    expect(await cache.get(1002)).toBeNull()
    await cache.put(1002, await cache.stamp(1002), halves())
    expect(await cache.get(1002)).toEqual(halves())
  })
})

test('what others put into the cache folder is never deleted', async () => {
  await cache.put(1001, await cache.stamp(1001), halves())
  mkdirSync(join(cacheFolder, 'notes'))
  writeFileSync(join(cacheFolder, 'notes', 'a.txt'), 'mine')
  utimesSync(join(cacheFolder, 'notes'), new Date(0), new Date(0))
  await pruneRectCache(cacheFolder, 0)
  expect(readdirSync(cacheFolder)).toEqual(['notes'])
  expect(readFileSync(join(cacheFolder, 'notes', 'a.txt'), 'utf8')).toBe('mine')
})

test('a cache that can not be written is no error', async () => {
  writeFileSync(cacheFolder, 'a file in its place')
  await cache.put(1002, await cache.stamp(1002), halves())
  expect(await cache.get(1002)).toBeNull()
})

test('past its size the rectangles that were not used for longest go', async () => {
  const other = new RectCache(plate, { ...RECT, x: 5 }, cacheFolder)
  for (const c of [cache, other]) await c.put(1001, await c.stamp(1001), halves())
  const [older] = readdirSync(cacheFolder).map((name) => join(cacheFolder, name))
  utimesSync(older, new Date(0), new Date(0))
  const one = 2 * halves().length + 32 + 8
  await pruneRectCache(cacheFolder, 2 * one)
  expect(readdirSync(cacheFolder)).toHaveLength(2)
  await pruneRectCache(cacheFolder, 2 * one - 1)
  expect(readdirSync(cacheFolder).map((name) => join(cacheFolder, name))).not.toContain(older)
  expect(readdirSync(cacheFolder)).toHaveLength(1)
})

test('of a shot that is larger than all that may be kept as many frames stay as there is room for', async () => {
  for (const n of [1001, 1002, 1003, 1004]) await cache.put(n, await cache.stamp(n), halves())
  const one = 2 * halves().length + 32 + 8
  await pruneRectCache(cacheFolder, 2.5 * one)
  const [folder] = readdirSync(cacheFolder)
  expect(readdirSync(join(cacheFolder, folder))).toHaveLength(2)
})

test('a second search, from the cache, finds what the first found', async () => {
  const planted = await plantPlate(join(root, 'searched'), { width: 96, height: 72, frames: 10 })
  const ask = { target: planted.folder, box: { x: 38, y: 26, w: 20, h: 20 }, frames: '1002-1003', reach: 4 }
  const first = await findDonors({ ...ask, surround: 12 })
  const second = await findDonors({ ...ask, surround: 12 })
  expect(second).toEqual(first)
})
