// Whole frames as small pictures: made once, and what else is wanted of a frame is kept on the way.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeEach, expect, test } from 'vitest'
import { openPlate, type Plate } from '../../../src/footage/plate.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import { cachedHalves } from '../../../src/track/cached-halves.js'
import { type SmallFrame, smallFrames } from '../../../src/track/camera/small-frame.js'
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
