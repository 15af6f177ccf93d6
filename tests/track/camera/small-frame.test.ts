// Whole frames as small pictures: made once, and what else is wanted of a frame is kept on the way.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeEach, expect, test } from 'vitest'
import { openPlate, type Plate } from '../../../src/footage/plate.js'
import { writeExr } from '../../../src/footage/write/exr.js'
import { makeFolder } from '../../../src/footage/write/make-folder.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame as frameOf } from '../../../src/raster/frame.js'
import { intersect } from '../../../src/raster/rect.js'
import { cachedHalves, withRoom } from '../../../src/track/cached-halves.js'
import { type SmallFrame, smallFrames } from '../../../src/track/camera/small-frame.js'
import { RectCache } from '../../../src/track/rect-cache.js'
import { randomFrom } from '../../random.js'
import { plantPlate } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-small-'))
const workspace = new Workspace()
afterAll(() => {
  workspace.close()
  rmSync(root, { recursive: true })
})

let number = 0
let plate: Plate
let asked: number[]
beforeEach(async () => {
  const { folder } = await plantPlate(join(root, `p${number++}`), { frames: 3 })
  const opened = await openPlate(folder)
  asked = []
  const { readThrough } = opened.source
  const source: Plate['source'] = {
    ...opened.source,
    readThrough: (frame, ...rest) => {
      asked.push(frame)
      return readThrough!(frame, ...rest)
    },
  }
  plate = { ...opened, source }
})

async function small(of: Plate, frames = of.frames, keep?: { x: number; y: number; w: number; h: number }) {
  const all: SmallFrame[] = []
  for await (const one of smallFrames(workspace, of, frames, 64, keep)) all.push(one)
  return all
}

test('the second time they come as they were, from the cache, in the order in which they are asked for', async () => {
  const [first, second, third] = await small(plate)
  expect(first.picture.width).toBeGreaterThan(30)
  expect(asked).toHaveLength(3)
  expect(await small(plate, [1003, 1001, 1002])).toEqual([third, first, second])
  expect(asked).toHaveLength(3)
  expect(await small(plate, [1002])).toEqual([second])
})

test('a frame that was written again is made anew', async () => {
  const [, second] = await small(plate)
  writeFileSync(plate.pathOf(1001), readFileSync(plate.pathOf(1002)))
  const [first] = await small(plate)
  expect(first.picture.data).toEqual(second.picture.data)
  expect(asked).toHaveLength(4)
})

test('what is not to be seen of a frame is not in its picture, whatever the cache has', async () => {
  const [plain] = await small(plate, [1001])
  const rect = { x: 0, y: 0, w: 40, h: 40 }
  const avoided = new Map([[1001, { rect, bits: new Uint8Array(1600).fill(1) }]])
  const [hidden] = await small({ ...plate, avoided }, [1001])
  expect([plain.known[0], hidden.known[0]]).toEqual([1, 0])
  const [again] = await small(plate, [1001])
  expect(again.known).toEqual(plain.known)
})

test('a rectangle that will be asked for is decoded no more', async () => {
  const keep = { x: 30, y: 21, w: 50, h: 40 }
  await small(plate, [1001, 1002], keep)
  const read = async (of: Plate) => {
    const found = new Map<number, Uint16Array>()
    for await (const { frame, picture } of cachedHalves(of, of.frames, keep))
      found.set(frame, picture!.slice())
    return found
  }
  const kept = await read(plate)
  expect(asked).toEqual([1001, 1002, 1003])
  // The same frames elsewhere, which the cache does not know.
  const { folder } = await plantPlate(join(root, 'elsewhere'), { frames: 3 })
  const decoded = await read(await openPlate(folder))
  for (const frame of plate.frames) expect(kept.get(frame)).toEqual(decoded.get(frame))
})

// Frames above 8 million samples are taken in by bands of rows.
test.each([
  [203, 90, { x: 0, y: 7, w: 203, h: 75 }],
  [2900, 1000, undefined],
])('halves of %i x %i are the same pictures by their rows as read at once', async (width, height, rect) => {
  const [folder, random] = [join(root, `halves-${width}`), randomFrom(`halves ${width}`)]
  await makeFolder(folder)
  const row = Float32Array.from({ length: 3 * width }, () => 0.02 + random())
  for (const frame of [1001, 1002]) {
    const data = Float32Array.from({ length: 3 * width * height }, (_, i) => row[(i + frame) % row.length])
    data.fill(Number.NaN, 3 * 20 * width + 60, 3 * 20 * width + 66)
    await writeExr(join(folder, `wall.${frame}.exr`), frameOf(height, width, 3, data), {
      displayWindow: { x: 0, y: 0, w: width, h: height },
      nonFinite: 'keep',
    })
  }
  const opened = await openPlate(folder)
  const { source } = opened
  const part = { x: 20, y: 15, w: 61, h: 58 }
  const hidden = new Map([[1002, { rect: part, bits: new Uint8Array(61 * 58).fill(1) }]])
  const atOnce = { ...opened, avoided: hidden, source: { ...source, eachHalves: undefined } }
  const byRows = { ...opened, avoided: hidden, source: { ...source, readHalves: undefined } }
  const both = await Promise.all(
    [atOnce, byRows].map(async (plate, i) => {
      const [all, cut]: [SmallFrame[], Map<number, Uint16Array>] = [[], new Map()]
      // Each has a cache of its own.
      const own = { ...plate, spec: `${folder} ${i}` }
      for await (const one of smallFrames(workspace, own, own.frames, 64, part, rect)) all.push(one)
      const cache = new RectCache(own, intersect(withRoom(own, part), rect ?? own.active))
      for (const frame of own.frames) cut.set(frame, (await cache.get(frame))!.slice())
      return { all, cut }
    }),
  )
  expect(both[1]).toEqual(both[0])
  const [{ all }] = both
  expect(all).toHaveLength(2)
  expect(all[0].known).not.toEqual(all[1].known)
  expect(all[0].known).toContain(0)
})

test('a broken frame among halves is left out', async () => {
  const folder = join(root, 'broken')
  await makeFolder(folder)
  const displayWindow = { x: 0, y: 0, w: 203, h: 90 }
  for (const frame of [1001, 1002])
    await writeExr(join(folder, `wall.${frame}.exr`), frameOf(90, 203, 3), { displayWindow })
  const whole = await openPlate(folder)
  writeFileSync(whole.pathOf(1002), readFileSync(whole.pathOf(1002)).subarray(0, -20))
  expect((await small(whole)).map(({ frame }) => frame)).toEqual([1001])
})
