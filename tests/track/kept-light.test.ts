// Footage drawn from what a search has kept of it: the light that is stored, decoded once.
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeEach, expect, test } from 'vitest'
import { openPlate, type Plate, readRect, withActive } from '../../src/footage/plate.js'
import { readRects } from '../../src/footage/read-many.js'
import { writeExr } from '../../src/footage/write/exr.js'
import { type Frame, frame } from '../../src/raster/frame.js'
import type { Rect } from '../../src/raster/rect.js'
import { cachedHalves } from '../../src/track/cached-halves.js'
import { KeptPieces } from '../../src/track/kept-light.js'
import { randomFrom } from '../random.js'
import { plantPlate } from '../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-kept-light-'))
afterAll(() => rmSync(root, { recursive: true }))

const FULL = { x: 0, y: 0, w: 200, h: 160 }
const SEARCHED = { x: 20, y: 10, w: 120, h: 130 }
const INNER = { x: 51, y: 33, w: 40, h: 30 }
let number = 0
let plate: Plate
beforeEach(async () => {
  const folder = mkdtempSync(join(root, 'plate-'))
  const random = randomFrom(`kept ${number++}`)
  for (const n of [1001, 1002, 1003]) {
    const picture = frame(FULL.h, FULL.w, 3)
    for (let i = 0; i < picture.data.length; i++) picture.data[i] = random() * 2 - 0.1
    await writeExr(join(folder, `wall.${n}.exr`), picture, { displayWindow: FULL })
  }
  plate = await openPlate(folder)
})

/** The same plate, and the rectangles that its files are asked for. */
function watched(of: Plate): { plate: Plate; asked: Rect[] } {
  const asked: Rect[] = []
  const { read, readHalves } = of.source
  const source: Plate['source'] = {
    ...of.source,
    read: (n, rect, outside) => {
      asked.push(rect)
      return read(n, rect, outside)
    },
    ...(readHalves && {
      readHalves: (n, rect) => {
        asked.push(rect)
        return readHalves(n, rect)
      },
    }),
  }
  return { plate: { ...of, source }, asked }
}

function isSame(a: Frame, b: Frame): boolean {
  return (
    String(a.shape) === String(b.shape) &&
    Buffer.compare(Buffer.from(a.data.buffer), Buffer.from(b.data.buffer)) === 0
  )
}

async function searched(of: Plate, rect: Rect): Promise<void> {
  for await (const { error } of cachedHalves(of, of.frames, rect)) if (error) throw error
}

test('half floats of linear light are drawn as they are stored, whether memory, the cache or the file has them', async () => {
  const parts: Rect[] = [
    INNER,
    { ...INNER, x: 50 },
    { x: 0, y: 0, w: 30, h: 20 },
    FULL,
    { x: 199, y: 159, w: 1, h: 1 },
  ]
  await searched(plate, SEARCHED)
  for (const bytes of [0, 2 ** 20]) {
    const drawn = new KeptPieces(bytes).of(plate)
    for (const rect of [...parts, ...parts])
      expect(isSame(await readRect(drawn, 1002, rect), await readRect(plate, 1002, rect))).toBe(true)
  }
})

test('a bar beside the picture is no picture', async () => {
  const barred = withActive(plate, { x: 0, y: 20, w: 200, h: 120 })
  await searched(barred, { x: 90, y: 20, w: 100, h: 100 })
  const { plate: seen, asked } = watched(barred)
  const drawn = new KeptPieces().of(seen)
  for (const rect of [
    { x: 120, y: 5, w: 30, h: 40 },
    { x: 3, y: 2, w: 9, h: 9 },
  ])
    expect((await readRect(drawn, 1001, rect)).data).toEqual((await readRect(barred, 1001, rect)).data)
  expect(asked).toHaveLength(1)
})

test('codes are rounded to half floats, and no more', async () => {
  const { folder } = await plantPlate(join(root, 'codes'), { frames: 2 })
  const codes = await openPlate(folder)
  const [kept, stored] = [
    await readRect(new KeptPieces().of(codes), 1001, INNER),
    await readRect(codes, 1001, INNER),
  ]
  const worst = Math.max(...stored.data.map((v, i) => Math.abs(kept.data[i] - v) / v))
  expect(worst).toBeLessThanOrEqual(2 ** -11)
  expect(worst).toBeGreaterThan(0)
})

test('what was searched is decoded no more, however little memory holds', async () => {
  const { plate: seen, asked } = watched(plate)
  await searched(seen, SEARCHED)
  expect(asked).toHaveLength(3)
  for (const bytes of [0, 2 ** 20]) {
    const drawn = new KeptPieces(bytes).of(seen)
    await Promise.all([
      readRect(drawn, 1001, INNER),
      readRect(drawn, 1001, INNER),
      readRect(drawn, 1002, INNER),
    ])
    for await (const { error } of readRects(drawn, [1001, 1002, 1003], SEARCHED))
      expect(error).toBeUndefined()
  }
  expect(asked).toHaveLength(3)
})

test('what was not searched is decoded once, with room for a donor that sways', async () => {
  const { plate: seen, asked } = watched(plate)
  const drawn = new KeptPieces().of(seen)
  for (const x of [60, 66, 54]) await readRect(drawn, 1003, { ...INNER, x })
  await readRect(new KeptPieces().of(seen), 1003, INNER)
  expect(asked).toHaveLength(1)
})

test('a file that was written again is read again', async () => {
  await searched(plate, SEARCHED)
  writeFileSync(plate.pathOf(1001), readFileSync(plate.pathOf(1002)))
  const drawn = await readRect(new KeptPieces().of(plate), 1001, INNER)
  expect(drawn.data).toEqual((await readRect(plate, 1002, INNER)).data)
})

test('a broken frame says so as it does otherwise, and is read when it has come back', async () => {
  const path = plate.pathOf(1001)
  const whole = readFileSync(path)
  writeFileSync(path, whole.subarray(0, 300))
  const drawn = new KeptPieces().of(plate)
  const said = await readRect(plate, 1001, INNER).catch((error: Error) => error.message)
  expect(said).toContain(path)
  await expect(readRect(drawn, 1001, INNER)).rejects.toThrow(said as string)
  writeFileSync(path, whole)
  expect((await readRect(drawn, 1001, INNER)).data).toEqual((await readRect(plate, 1001, INNER)).data)
  expect(readdirSync(plate.folder)).toHaveLength(3)
})
