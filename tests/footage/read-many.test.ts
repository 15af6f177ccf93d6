import { rm } from 'node:fs/promises'
import { join } from 'node:path'
import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { checkSizes, readRects } from '../../src/footage/read-many.js'
import type { Progress } from '../../src/progress.js'
import { expectRefusal } from '../refusal.js'
import { folderOf, freshFolder, greyPng, put } from './folder.js'

const RECT = { x: 2, y: 1, w: 3, h: 2 }

/** Frame n is a 6 x 4 PNG of grey n, so that a picture says which frame it is. */
async function numberedPlate(first: number, last: number, broken: readonly number[] = []): Promise<string> {
  const folder = await freshFolder()
  for (let n = first; n <= last; n++) {
    await put(folder, `quay.${n}.png`, broken.includes(n) ? 'broken' : await greyPng(n))
  }
  return folder
}

describe('many frames', () => {
  test('come each once, each the same as read alone', async () => {
    const plate = await openPlate(await numberedPlate(1, 30))
    const seen = new Map<number, Float32Array>()
    for await (const { frame, picture } of readRects(plate, plate.frames, RECT)) {
      expect(seen.has(frame)).toBe(false)
      seen.set(frame, picture!.data)
    }
    expect([...seen.keys()].sort((a, b) => a - b)).toEqual(plate.frames)
    for (const n of [1, 17, 30]) expect(seen.get(n)).toEqual((await readRect(plate, n, RECT)).data)
  })

  test('one corrupt frame and one that is not there come with their errors, the others go on', async () => {
    const folder = await numberedPlate(1, 9, [4])
    const plate = await openPlate(folder)
    const good: number[] = []
    const bad: [number, string, string][] = []
    for await (const { frame, picture, error } of readRects(plate, [1, 2, 3, 4, 5, 6, 7, 8, 9, 12], RECT)) {
      if (picture) good.push(frame)
      else bad.push([frame, error.code, error.message])
    }
    expect(good.sort()).toEqual([1, 2, 3, 5, 6, 7, 8, 9])
    expect(bad.sort((a, b) => a[0] - b[0])).toEqual([
      [4, 'FRAME_UNREADABLE', expect.stringContaining(`${join(folder, 'quay.4.png')} can't be read (`)],
      [12, 'FRAME_MISSING', `${plate.spec} has no frame 12: it has 1 to 9`],
    ])
  })

  test('of which one lacks memory are no list with a gap: the reading ends, and says that it is memory', async () => {
    const plate = await openPlate(await numberedPlate(1, 6))
    const read: typeof plate.source.read = (frame, rect) => {
      if (frame === 3) new ArrayBuffer(2 ** 52)
      return plate.source.read(frame, rect)
    }
    const short = { ...plate, source: { ...plate.source, read } }
    const all = async () => {
      for await (const { error } of readRects(short, short.frames, RECT)) expect(error).toBeUndefined()
    }
    await expectRefusal(all, { code: 'OUT_OF_MEMORY', exitCode: 1, says: ['not enough memory'] })
  })

  test('only a few are read ahead of the one that is taken', async () => {
    const folder = await numberedPlate(1, 60)
    const plate = await openPlate(folder)
    let good = 0
    for await (const { picture } of readRects(plate, plate.frames, RECT)) {
      if (picture) good++
      // what has not been read by now is gone
      if (good === 1) for (const frame of plate.frames) await rm(plate.pathOf(frame), { force: true })
    }
    expect(good).toBeGreaterThan(0)
    expect(good).toBeLessThan(10)
  })

  test('stopping early is not an error, and the plate reads on afterwards', async () => {
    const plate = await openPlate(await numberedPlate(1, 30))
    for await (const { picture } of readRects(plate, plate.frames, RECT)) {
      expect(picture).toBeDefined()
      break
    }
    expect((await readRect(plate, 30, RECT)).shape).toEqual([2, 3, 3])
  })

  test('a rectangle outside the frame is refused before anything is read', async () => {
    const plate = await openPlate(await numberedPlate(1, 2))
    await expect(readRects(plate, [1], { x: 0, y: 0, w: 7, h: 1 }).next()).rejects.toThrow(
      expect.objectContaining({ code: 'RECT_OUTSIDE' }),
    )
  })

  test('of none there are none', async () => {
    const plate = await openPlate(await numberedPlate(1, 2))
    expect((await readRects(plate, [], RECT).next()).done).toBe(true)
  })

  test('a copy of a plate reads as the plate does', async () => {
    const plate = await openPlate(await numberedPlate(1, 2))
    expect((await readRect({ ...plate }, 1, RECT)).data).toEqual((await readRect(plate, 1, RECT)).data)
  })
})

describe('sizes', () => {
  test('a plate of one size is passed, with progress to the end', async () => {
    const plate = await openPlate(await numberedPlate(1, 20))
    const reports: Progress[] = []
    expect(await checkSizes(plate, { onProgress: (p) => reports.push(p) })).toEqual([])
    expect(reports.at(-1)).toEqual({ phase: 'looking at headers', done: 20, total: 20 })
  })

  test('of mixed sizes the first odd frame is named, whatever the order of reading', async () => {
    const folder = await numberedPlate(1, 40)
    for (const n of [13, 14, 37])
      await put(folder, `quay.${n}.png`, await greyPng(n, { width: 6, height: 5 }))
    const plate = await openPlate(folder)
    const odd = join(folder, 'quay.13.png')
    await expect(checkSizes(plate)).rejects.toThrow(
      expect.objectContaining({
        code: 'FRAME_SIZE',
        exitCode: 1,
        message: `${odd} is 6 x 5, the plate is 6 x 4: a plate has one size; move the odd frames elsewhere`,
      }),
    )
  })

  test('of mixed depths the first odd frame is named', async () => {
    const folder = await numberedPlate(1, 5)
    const deep = await sharp(await greyPng(3))
      .toColourspace('rgb16')
      .png()
      .toBuffer()
    await put(folder, 'quay.3.png', deep)
    const odd = join(folder, 'quay.3.png')
    await expect(checkSizes(await openPlate(folder))).rejects.toThrow(
      expect.objectContaining({
        code: 'FRAME_DEPTH',
        message: `${odd} holds 16-bit pixels, the plate 8-bit: a plate has one depth; move the odd frames elsewhere`,
      }),
    )
  })

  test('broken headers are handed back in order, not thrown', async () => {
    const plate = await openPlate(await numberedPlate(1, 20, [18, 3, 7]))
    const broken = await checkSizes(plate)
    expect(broken.map(({ frame, error }) => [frame, error.code])).toEqual([
      [3, 'FRAME_UNREADABLE'],
      [7, 'FRAME_UNREADABLE'],
      [18, 'FRAME_UNREADABLE'],
    ])
  })

  test('a plate of 2,000 frames opens and has its headers looked at in a moment', async () => {
    const names = Array.from({ length: 2000 }, (_, i) => `quay.${1001 + i}.png`)
    const folder = await folderOf(names)
    const start = performance.now()
    const plate = await openPlate(folder)
    const opened = performance.now()
    expect(await checkSizes(plate)).toEqual([])
    const checked = performance.now()
    expect(plate.frames).toHaveLength(2000)
    // measured 0.05 s and 0.7 s on two cores; the bounds leave room for a machine that does other things
    expect(opened - start).toBeLessThan(2000)
    expect(checked - opened).toBeLessThan(5000)
  })
})
