// Still frames, exact to the last bit, against what OpenImageIO reads (fixtures/stills/make-stills.py).
import { readFileSync } from 'node:fs'
import { readFile, writeFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../../src/footage/plate.js'
import { stillReader } from '../../../src/footage/stills/reader.js'
import { freshFolder, greyPng, put } from '../folder.js'

const FOLDER = new URL('../../../fixtures/stills/', import.meta.url)
const pathTo = (name: string): string => fileURLToPath(new URL(name, FOLDER))
const values = JSON.parse(readFileSync(new URL('values.json', FOLDER), 'utf8')) as Record<string, number[][]>
const [WIDTH, HEIGHT] = [13, 9]
const WHOLE = { x: 0, y: 0, w: WIDTH, h: HEIGHT }

const fullScaleOf = (bitDepth: string): number =>
  ({ '8-bit': 255, '16-bit': 65535, float: 1 })[bitDepth] ?? Number.NaN

/** What a stored pixel is as RGB: grey three times, alpha dropped. */
const rgbOf = (pixel: readonly number[]): number[] =>
  pixel.length < 3 ? [pixel[0]!, pixel[0]!, pixel[0]!] : pixel.slice(0, 3)

const layouts = Object.keys(values)

test('every layout has values', () => expect(layouts).toHaveLength(24))

describe.each(layouts)('%s', (name) => {
  // two JPEG decoders round the inverse transform differently: one code value, by ITU-T T.83's bounds;
  // floats were printed with nine decimals
  const tolerance = name.endsWith('.jpg') ? 1 : name.includes('float') ? 6e-10 : 0

  test('its header is read', async () => {
    const info = await stillReader.probe(pathTo(name))
    expect(info).toMatchObject({ width: WIDTH, height: HEIGHT, pixelAspect: 1 })
    const wanted = name.includes('16') ? '16-bit' : name.includes('float') ? 'float' : '8-bit'
    expect(info.bitDepth).toBe(wanted)
  })

  test('its pixels are the stored ones, at full depth', async () => {
    const { bitDepth } = await stillReader.probe(pathTo(name))
    const fullScale = fullScaleOf(bitDepth)
    const picture = await stillReader.read(pathTo(name), WHOLE)
    expect(picture.shape).toEqual([HEIGHT, WIDTH, 3])
    let worst = 0
    for (const [pixel, stored] of values[name]!.entries()) {
      for (const [channel, wanted] of rgbOf(stored).entries()) {
        const code = picture.data[pixel * 3 + channel]! * fullScale
        const whole = fullScale === 1 ? code : Math.round(code)
        worst = Math.max(worst, Math.abs(whole - wanted))
      }
    }
    expect(worst).toBeLessThanOrEqual(tolerance)
  })

  test('its alpha is the stored one, and whether colours are multiplied by it is said', async () => {
    const alpha = await stillReader.readAlpha!(pathTo(name), WHOLE)
    const stored = values[name]!.map((pixel) => (pixel.length % 2 === 0 ? pixel.at(-1)! : null))
    if (stored[0] === null) {
      expect(alpha).toBeNull()
      return
    }
    const fullScale = fullScaleOf((await stillReader.probe(pathTo(name))).bitDepth)
    expect(alpha!.associated).toBe(name.endsWith('.tif'))
    for (const [i, wanted] of stored.entries()) expect(alpha!.data[i]! * fullScale).toBeCloseTo(wanted!, 2)
  })

  test('a rectangle of it is that part of the whole', async () => {
    const whole = await stillReader.read(pathTo(name), WHOLE)
    for (const rect of [
      { x: 3, y: 2, w: 5, h: 4 },
      { x: 12, y: 8, w: 1, h: 1 },
      { x: 0, y: 7, w: 13, h: 2 },
    ]) {
      const part = await stillReader.read(pathTo(name), rect)
      const wanted = Float32Array.from({ length: rect.w * rect.h * 3 }, (_, i) => {
        const [c, x, y] = [i % 3, Math.floor(i / 3) % rect.w, Math.floor(i / 3 / rect.w)]
        return whole.get(rect.y + y, rect.x + x, c)
      })
      expect(part.data).toEqual(wanted)
    }
  })
})

test('a file that holds NaN and infinity keeps them', async () => {
  const folder = await freshFolder()
  const bytes = await readFile(pathTo('rgb-float-zip-strips.tif'))
  expect(bytes.length).toBeGreaterThan(0)
  const raw = Float32Array.of(Number.NaN, 1, 2, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, -3)
  const path = await put(folder, 'odd.0001.tif', plainFloatTiff(2, 1, raw))
  const picture = await stillReader.read(path, { x: 0, y: 0, w: 2, h: 1 })
  expect(picture.data).toEqual(raw)
})

test('16-bit sRGB becomes linear light by the curve of the standard', async () => {
  const plate = await openPlate(pathTo('grey-alpha-16.png'))
  const [code] = values['grey-alpha-16.png']![0]!
  // by its name it is frame 16 of a plate
  const picture = await readRect(plate, 16, { x: 0, y: 0, w: 1, h: 1 })
  expect(picture.data[0]).toBeCloseTo(((code! / 65535 + 0.055) / 1.055) ** 2.4, 6)
})

describe('what is refused', () => {
  const refused = async (name: string, bytes: Uint8Array | string, said: RegExp): Promise<void> => {
    const folder = await freshFolder()
    const good = await greyPng()
    await put(folder, 'quay.1001.png', good)
    const path = await put(folder, name, bytes)
    const plate = await openPlate(folder)
    await expect(readRect(plate, 1002, { x: 0, y: 0, w: 6, h: 4 })).rejects.toThrow(
      expect.objectContaining({
        code: 'FRAME_UNREADABLE',
        exitCode: 1,
        message: expect.stringMatching(said),
      }),
    )
    await expect(readRect(plate, 1002, { x: 0, y: 0, w: 6, h: 4 })).rejects.toThrow(`${path} can't be read (`)
    // the frame before it is not harmed
    await readRect(plate, 1001, { x: 0, y: 0, w: 6, h: 4 })
  }

  test('a text file that calls itself a picture', () =>
    refused('quay.1002.png', 'not a picture', /unsupported image format\): render or copy it again$/))

  test('an empty file', () => refused('quay.1002.png', '', /can't be read \(.+\): render or copy it again$/))

  test.each([0.2, 0.5, 0.9])('a picture that ends after %f of its bytes, not shown grey', async (share) => {
    const noise = Buffer.from(
      Uint8Array.from({ length: 64 * 48 * 3 }, (_, i) => (i * 7919 + ((i * i) % 251)) % 256),
    )
    const picture = sharp(noise, { raw: { width: 64, height: 48, channels: 3 } })
    for (const [ending, bytes] of [
      ['png', await picture.clone().png().toBuffer()],
      ['jpg', await picture.clone().jpeg().toBuffer()],
      ['tif', await picture.clone().tiff({ compression: 'lzw' }).toBuffer()],
    ] as const) {
      const folder = await freshFolder()
      await put(folder, `quay.1001.${ending}`, bytes)
      await put(folder, `quay.1002.${ending}`, bytes.subarray(0, Math.floor(bytes.length * share)))
      const plate = await openPlate(folder)
      await expect(readRect(plate, 1002, { x: 0, y: 0, w: 64, h: 48 }), ending).rejects.toThrow(
        expect.objectContaining({ code: 'FRAME_UNREADABLE' }),
      )
    }
  })

  test('CMYK, with what is read instead', async () => {
    await expect(openPlate(pathTo('cmyk.tif'))).rejects.toThrow(
      expect.objectContaining({
        code: 'FRAME_UNREADABLE',
        message:
          `${pathTo('cmyk.tif')} can't be read (holds cmyk pixels of kind uchar; RGB or grey of 8 or 16 bits or float ` +
          'is read): render or copy it again',
      }),
    )
  })

  test('a header that asks for a picture of 65,000 x 65,000 pixels', async () => {
    const folder = await freshFolder()
    const bytes = Buffer.from(await greyPng())
    bytes.writeUInt32BE(65000, 16)
    bytes.writeUInt32BE(65000, 20)
    await put(folder, 'quay.1001.png', bytes)
    const before = process.memoryUsage().rss
    await expect(
      openPlate(folder).then((p) => readRect(p, 1001, { x: 0, y: 0, w: 9, h: 9 })),
    ).rejects.toThrow(expect.objectContaining({ code: 'FRAME_UNREADABLE' }))
    expect(process.memoryUsage().rss - before).toBeLessThan(2 ** 28)
  })
})

test('a frame that was rendered again is read as it is now', async () => {
  const folder = await freshFolder()
  const path = await put(folder, 'quay.1001.png', await greyPng(10))
  const plate = await openPlate(folder, { encoding: 'linear' })
  const rect = { x: 0, y: 0, w: 1, h: 1 }
  expect((await readRect(plate, 1001, rect)).data[0]).toBeCloseTo(10 / 255, 6)
  await writeFile(path, await greyPng(200))
  expect((await readRect(plate, 1001, rect)).data[0]).toBeCloseTo(200 / 255, 6)
})

/** An uncompressed little-endian RGB float TIFF in one strip. TIFF 6.0, sections 2, 4 and 19. */
function plainFloatTiff(width: number, height: number, samples: Float32Array): Buffer {
  const entries: [tag: number, type: 3 | 4, count: number, value: number][] = [
    [256, 4, 1, width],
    [257, 4, 1, height],
    [258, 3, 3, 0],
    [259, 3, 1, 1],
    [262, 3, 1, 2],
    [273, 4, 1, 0],
    [277, 3, 1, 3],
    [278, 4, 1, height],
    [279, 4, 1, samples.byteLength],
    [339, 3, 3, 0],
  ]
  const extras = 8 + 2 + entries.length * 12 + 4
  entries[2]![3] = extras
  entries[5]![3] = extras + 12
  entries[9]![3] = extras + 6
  const file = Buffer.alloc(extras + 12 + samples.byteLength)
  file.write('II')
  file.writeUInt16LE(42, 2)
  file.writeUInt32LE(8, 4)
  file.writeUInt16LE(entries.length, 8)
  for (const [i, [tag, type, count, value]] of entries.entries()) {
    const at = 10 + i * 12
    file.writeUInt16LE(tag, at)
    file.writeUInt16LE(type, at + 2)
    file.writeUInt32LE(count, at + 4)
    file.writeUInt32LE(value, at + 8)
  }
  for (let i = 0; i < 3; i++) {
    file.writeUInt16LE(32, extras + i * 2)
    file.writeUInt16LE(3, extras + 6 + i * 2)
  }
  file.set(new Uint8Array(samples.buffer), extras + 12)
  return file
}
