// Halves of linear light. Truth: OpenEXR's own files in every compression (fixtures/exr), read as floats and turned into halves.
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { expect, test } from 'vitest'
import { eachHalfRows, openPlate, type Plate, withActive } from '../../src/footage/plate.js'
import { eachRowAsHalves, readHalves } from '../../src/footage/read-halves.js'
import { readRects } from '../../src/footage/read-many.js'
import { floatsToHalves, HALF_MAX } from '../../src/raster/half.js'
import type { Rect } from '../../src/raster/rect.js'

const folder = new URL('../../fixtures/exr/', import.meta.url).pathname

async function one<T>(deliveries: AsyncGenerator<{ picture?: T; error?: Error }>): Promise<T> {
  for await (const { picture, error } of deliveries) {
    if (picture === undefined) throw error
    return picture
  }
  throw new Error('nothing was delivered')
}

/** By way of floats; what is brighter than a half can hold stays as bright as one can. */
async function throughFloats(plate: Plate, rect: Rect): Promise<Uint16Array> {
  const { data } = await one(readRects(plate, [plate.first], rect))
  const bounded = data.map((v) => (Number.isFinite(v) ? Math.min(HALF_MAX, Math.max(-HALF_MAX, v)) : v))
  const halves = new Uint16Array(bounded.length)
  floatsToHalves(bounded, halves)
  return halves
}

const files = readdirSync(folder).filter((f) => /^(half|float|chroma|window|tiled)-.*\.exr$/.test(f))

test.each(files)('%s is read as the halves that its floats come to, all of it and a part', async (file) => {
  const plate = await openPlate(`${folder}${file}`, { encoding: 'linear' })
  const full = { x: 0, y: 0, w: plate.width, h: plate.height }
  const part = { x: 1, y: 1, w: Math.max(1, plate.width - 3), h: Math.max(1, plate.height - 2) }
  for (const rect of [full, part])
    expect(await one(readHalves(plate, [plate.first], rect))).toEqual(await throughFloats(plate, rect))
})

test.each(files)(
  '%s is read as its file’s own halves where it has such, without what is held to be no picture',
  async (file) => {
    const opened = await openPlate(`${folder}${file}`, { encoding: 'linear' })
    const rect = { x: 0, y: 0, w: opened.width, h: opened.height }
    for (const plate of [
      opened,
      withActive(opened, { x: 1, y: 2, w: opened.width - 3, h: opened.height - 4 }),
    ]) {
      const floats = await throughFloats(plate, rect)
      for (const rows of [1, 7, rect.h, 2 * rect.h]) {
        const halves = new Uint16Array(floats.length)
        let rowsSeen = 0
        const isStored = await eachHalfRows(plate, plate.first, {
          rows,
          take: (some, y) => {
            expect(y).toBe(rowsSeen)
            halves.set(some, 3 * rect.w * y)
            rowsSeen += some.length / (3 * rect.w)
          },
        })
        if (/^(half|tiled-half)/.test(file)) expect(isStored).toBe(true)
        expect(rowsSeen).toBe(isStored ? rect.h : 0)
        if (isStored) expect(halves).toEqual(floats)
        const part = { ...rect, y: 1, h: rect.h - 2 }
        const some: number[] = []
        const take = (of: Uint16Array) => some.push(...of)
        await eachHalfRows(plate, plate.first, { rows, from: part.y, to: part.y + part.h, take })
        if (isStored) expect(Uint16Array.from(some)).toEqual(await throughFloats(plate, part))
      }
    }
    const bent = await openPlate(`${folder}${file}`, { encoding: 'srgb' })
    const heard = { rows: 16, take: () => expect.unreachable() }
    expect(await eachHalfRows(bent, bent.first, heard)).toBe(false)
  },
)

test.each([8, 16])('codes of %i bits come by rows as the halves that their floats come to', async (bits) => {
  const written = mkdtempSync(join(tmpdir(), 'offcut-rows-'))
  try {
    const raw = { width: 40, height: 23, channels: 3 as const }
    const codes = bits === 8 ? new Uint8Array(3 * 40 * 23) : new Uint16Array(3 * 40 * 23)
    for (let i = 0; i < codes.length; i++) codes[i] = (i * 2654435761) >>> 7
    const picture = sharp(codes, { raw })
    await (bits === 8 ? picture : picture.toColourspace('rgb16')).png().toFile(join(written, 'quay.1001.png'))
    const opened = await openPlate(written)
    for (const plate of [opened, withActive(opened, { x: 3, y: 2, w: 30, h: 20 })]) {
      const halves = new Uint16Array(codes.length)
      const take = (some: Uint16Array, y: number) => halves.set(some, 3 * 40 * y)
      expect(await eachRowAsHalves(plate, 1001, { rows: 5, take })).toBe(true)
      expect(halves).toEqual(await throughFloats(plate, { x: 0, y: 0, w: 40, h: 23 }))
    }
    await expect(eachRowAsHalves(opened, 1002, { rows: 5, take: () => {} })).rejects.toMatchObject({
      code: 'FRAME_MISSING',
    })
  } finally {
    rmSync(written, { recursive: true })
  }
})

test('all of OpenEXR’s ways to store halves are among them', () => {
  expect(files.filter((f) => f.startsWith('half-')).length).toBeGreaterThan(9)
})
