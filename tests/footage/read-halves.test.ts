// Halves of linear light. Truth: OpenEXR's own files in every compression (fixtures/exr), read as floats and turned into halves.
import { readdirSync } from 'node:fs'
import { expect, test } from 'vitest'
import { eachHalfRows, openPlate, type Plate, withActive } from '../../src/footage/plate.js'
import { readHalves } from '../../src/footage/read-halves.js'
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

test('all of OpenEXR’s ways to store halves are among them', () => {
  expect(files.filter((f) => f.startsWith('half-')).length).toBeGreaterThan(9)
})
