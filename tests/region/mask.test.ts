import { execFileSync } from 'node:child_process'
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import sharp from 'sharp'
import { afterAll, describe, expect, test } from 'vitest'
import { writeExr } from '../../src/footage/write/exr.js'
import { frame } from '../../src/raster/frame.js'
import { boxMask, loadMasks, type Mask, unionBox } from '../../src/region/mask.js'
import { expectRefusal } from '../refusal.js'
import { boxOf, plantMask, writeFloatTiff } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-mask-'))
afterAll(() => rmSync(folder, { recursive: true }))

const PLATE = { width: 160, height: 120 }
const FRAMES = [1001, 1002, 1003]

async function still(path: string, fit?: 'centre' | 'scale'): Promise<Mask> {
  return (await loadMasks(path, PLATE, [1001], fit)).get(1001)!
}

async function raw(name: string, channels: 1 | 2 | 3 | 4, pixel: (x: number, y: number) => number[]) {
  const bytes = new Uint8Array(160 * 120 * channels)
  for (let y = 0; y < 120; y++) for (let x = 0; x < 160; x++) bytes.set(pixel(x, y), (y * 160 + x) * channels)
  const path = join(folder, name)
  await sharp(bytes, { raw: { ...PLATE, channels } })
    .png()
    .toFile(path)
  return path
}

describe('a still mask', () => {
  test('is cut to its white, and white is exactly 1', async () => {
    const mask = await still(await plantMask(join(folder, 'box.png'), boxOf(30, 40, 20, 10)))
    expect(mask.rect).toEqual({ x: 30, y: 40, w: 20, h: 10 })
    expect(new Set(mask.data)).toEqual(new Set([1]))
  })

  test('of 16 bits or float keeps its finer steps', async () => {
    const path = join(folder, 'fine.png')
    const codes = new Uint16Array(160 * 120).fill(20001)
    await sharp(codes, { raw: { ...PLATE, channels: 1 } })
      .toColourspace('grey16')
      .png()
      .toFile(path)
    expect((await still(path)).data[0]).toBeCloseTo(20001 / 65535, 5)
    const float = join(folder, 'float.tif')
    writeFloatTiff(float, new Float32Array(3 * 160 * 120).fill(0.3), 160, 120)
    expect((await still(float)).data[0]).toBeCloseTo(0.3, 5)
  })

  test('serves every frame with one and the same object', async () => {
    const masks = await loadMasks(join(folder, 'box.png'), PLATE, FRAMES)
    expect([...masks.keys()]).toEqual(FRAMES)
    expect(new Set(masks.values()).size).toBe(1)
  })

  test('keeps partial values as weights', async () => {
    const mask = await still(
      await plantMask(join(folder, 'soft.png'), (x, y) => (x === 8 && y === 9 ? 0.4 : 0)),
    )
    expect(mask.rect).toEqual({ x: 8, y: 9, w: 1, h: 1 })
    expect(mask.data[0]).toBeCloseTo(0.4, 3)
  })

  test('is its alpha where the file has a used alpha, its luminance where alpha is full', async () => {
    const inAlpha = (x: number) => (x >= 100 ? 255 : 0)
    const used = await raw('alpha.png', 4, (x) => [x < 50 ? 255 : 0, 0, 0, inAlpha(x)])
    expect((await still(used)).rect).toEqual({ x: 100, y: 0, w: 60, h: 120 })
    const full = await raw('full.png', 4, (x) => (x < 50 ? [255, 255, 255, 255] : [0, 0, 0, 255]))
    expect((await still(full)).rect).toEqual({ x: 0, y: 0, w: 50, h: 120 })
    const grey = await raw('grey-alpha.png', 2, (x) => [255, inAlpha(x)])
    expect((await still(grey)).rect).toEqual({ x: 100, y: 0, w: 60, h: 120 })
  })

  test('in colour weighs its channels as BT.709 does', async () => {
    // ITU-R BT.709-6, item 3.2.
    const red = await still(await raw('red.png', 3, () => [255, 0, 0]))
    expect(red.data[0]).toBeCloseTo(0.2126, 4)
  })

  test('as a float EXR takes more than 1 as 1 and anything not finite or negative as 0', async () => {
    const image = frame(120, 160, 3)
    const set = (x: number, v: number) => image.data.fill(v, 3 * x, 3 * x + 3)
    set(1, 4)
    set(2, Number.NaN)
    set(3, -2)
    set(4, 0.5)
    const path = join(folder, 'float.exr')
    await writeExr(path, image, {
      displayWindow: { x: 0, y: 0, w: 160, h: 120 },
      pixelType: 'float',
      nonFinite: 'keep',
    })
    const mask = await still(path)
    expect(mask.rect).toEqual({ x: 1, y: 0, w: 4, h: 1 })
    expect([...mask.data]).toEqual([1, 0, 0, 0.5])
  })

  test('is the matte in an EXR’s alpha where that is used, else the luminance', async () => {
    const image = frame(120, 160, 4)
    // Light all over, as of a roto over its plate; the matte is what is meant.
    for (let i = 0; i < image.data.length; i += 4) image.data.set([0.3, 0.4, 0.2, 0], i)
    for (let x = 30; x < 50; x++) image.data[4 * (40 * 160 + x) + 3] = x < 40 ? 1 : 0.5
    const path = join(folder, 'matte.exr')
    const displayWindow = { x: 0, y: 0, w: 160, h: 120 }
    await writeExr(path, image, { displayWindow })
    const mask = await still(path)
    expect(mask.rect).toEqual({ x: 30, y: 40, w: 20, h: 1 })
    expect([...mask.data]).toEqual(Array.from({ length: 20 }, (_, i) => (i < 10 ? 1 : 0.5)))
    // Alpha 1 all over says nothing.
    for (let i = 0; i < image.data.length; i += 4) image.data.set([0, 0, 0, 1], i)
    for (let x = 10; x < 14; x++) image.data.fill(1, 4 * (5 * 160 + x), 4 * (5 * 160 + x) + 3)
    const full = join(folder, 'opaque.exr')
    await writeExr(full, image, { displayWindow })
    expect((await still(full)).rect).toEqual({ x: 10, y: 5, w: 4, h: 1 })
    // Nor does a data window that is smaller than the frame use it.
    const cropped = frame(20, 40, 4)
    for (let i = 0; i < cropped.data.length; i += 4) cropped.data.set([0, 0, 0, 1], i)
    cropped.data.fill(1, 4 * (3 * 40 + 5), 4 * (3 * 40 + 5) + 3)
    const part = join(folder, 'cropped.exr')
    await writeExr(part, cropped, { displayWindow, origin: { x: 50, y: 60 } })
    expect((await still(part)).rect).toEqual({ x: 55, y: 63, w: 1, h: 1 })
  })

  test('is the matte of a TIFF whose colours are multiplied by it, as stored', async () => {
    // Values as OpenImageIO reads them: fixtures/stills/make-stills.py.
    const values = JSON.parse(readFileSync('fixtures/stills/values.json', 'utf8'))[
      'rgba-16.tif'
    ] as number[][]
    const [mask] = (await loadMasks('fixtures/stills/rgba-16.tif', { width: 13, height: 9 }, [1001])).values()
    expect(mask.rect).toEqual({ x: 0, y: 0, w: 13, h: 9 })
    for (const [i, v] of values.entries()) expect(mask.data[i]).toBeCloseTo(v[3] / 65535, 6)
  })

  test('is taken as stored whatever colour profile it names', async () => {
    // A grey ramp with Display P3, whose curve and primaries would change every code but black and white.
    const path = join(folder, 'profile.png')
    const bytes = Uint8Array.from(
      { length: 3 * 160 * 120 },
      (_, i) => Math.floor((i / 3) % 160) + 20 * (i % 3),
    )
    const raw = { width: 160, height: 120, channels: 3 as const }
    await sharp(bytes, { raw }).png().toFile(join(folder, 'no-profile.png'))
    await sharp(bytes, { raw }).withIccProfile('p3').png().toFile(path)
    expect((await sharp(path).metadata()).icc).toBeDefined()
    // The stored codes themselves, profile ignored.
    const { data } = await sharp(path, { ignoreIcc: true }).raw().toBuffer({ resolveWithObject: true })
    const mask = await still(path)
    expect(mask.rect.w).toBe(160)
    for (let x = 0; x < 160; x++) {
      const [r, g, b] = data.subarray(3 * x, 3 * x + 3)
      expect(mask.data[x]).toBeCloseTo((0.2126 * r + 0.7152 * g + 0.0722 * b) / 255, 5)
    }
  })

  test('drawn as SVG lies where its plate pixels say, with or without a size of its own', async () => {
    const body = '<rect x="20" y="30" width="40" height="50" fill="white"/>'
    for (const head of [
      '<svg xmlns="http://www.w3.org/2000/svg" width="160" height="120">',
      '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 160 120">',
    ]) {
      const path = join(folder, 'shape.svg')
      writeFileSync(path, `${head}${body}</svg>`)
      const mask = await still(path)
      expect(mask.rect).toEqual({ x: 20, y: 30, w: 40, h: 50 })
      expect(Math.min(...mask.data)).toBe(1)
    }
  })
})

describe('a mask of another size', () => {
  const refused = async (w: number, h: number, ...says: string[]) => {
    const path = await plantMask(join(folder, `m${w}x${h}.png`), boxOf(2, 2, 9, 9), w, h)
    return expectRefusal(() => still(path), {
      code: 'MASK_SIZE',
      exitCode: 2,
      says: [path, `${w} x ${h}`, '160 x 120', ...says],
    })
  }

  test('that is plainly a centred extraction is refused with the option that centres it', async () => {
    await refused(160, 90, '`maskFit` centre')
    // 2.39:1 of 160 pixels are 66.9 rows; 160 x 67 leaves 53 of 120, which has no middle.
    const scope = await plantMask(join(folder, 'scope.png'), boxOf(2, 2, 9, 9), 160, 67)
    const says = [scope, '160 x 67', '160 x 120', '`maskFit` centre', 'half a pixel']
    await expectRefusal(() => still(scope), { code: 'MASK_SIZE', exitCode: 2, says })
  })

  test('that is plainly a scale is refused with the option that scales it', async () => {
    await refused(80, 60, '`maskFit` scale')
    await refused(320, 240, '`maskFit` scale')
  })

  test('that is neither is refused without an option that would not help', async () => {
    const { message } = await refused(100, 77, 'full size')
    expect(message).not.toContain('`maskFit`')
  })

  test('is centred on request', async () => {
    const path = await plantMask(join(folder, 'crop.png'), boxOf(10, 20, 30, 25), 160, 90)
    expect((await still(path, 'centre')).rect).toEqual({ x: 10, y: 35, w: 30, h: 25 })
  })

  test('larger than the plate is centred and cut', async () => {
    const path = await plantMask(join(folder, 'large.png'), () => 1, 180, 140)
    expect((await still(path, 'centre')).rect).toEqual({ x: 0, y: 0, w: 160, h: 120 })
  })

  test('is scaled on request, its middle where it was', async () => {
    const path = await plantMask(join(folder, 'half.png'), boxOf(20, 15, 40, 30), 80, 60)
    const mask = await still(path, 'scale')
    const { rect, data } = mask
    let area = 0
    let across = 0
    let down = 0
    for (let y = 0, i = 0; y < rect.h; y++) {
      for (let x = 0; x < rect.w; x++, i++) {
        area += data[i]
        across += data[i] * (rect.x + x + 0.5)
        down += data[i] * (rect.y + y + 0.5)
      }
    }
    // Planted: a 40 x 30 box at twice the size. sharp's enlargement lies half a plate pixel low and right of the
    // ideal place; a surround keeps four times that from the mask.
    expect(area / (80 * 60)).toBeCloseTo(1, 2)
    expect(Math.abs(across / area - 80)).toBeLessThanOrEqual(0.51)
    expect(Math.abs(down / area - 60)).toBeLessThanOrEqual(0.51)
    expect(data[(rect.h >> 1) * rect.w + (rect.w >> 1)]).toBe(1)
  })
})

describe('a mask sequence', () => {
  const sequence = join(folder, 'moving')
  const plant = async () => {
    mkdirSync(sequence, { recursive: true })
    for (const f of [1001, 1002, 1003, 1004])
      await plantMask(join(sequence, `m.${f}.png`), boxOf(10 * (f - 1000), 20, 12, 30))
  }

  test('has its own mask for each frame, and their union is the region', async () => {
    await plant()
    for (const spec of [sequence, join(sequence, 'm.1002.png'), join(sequence, 'm.####.png')]) {
      const masks = await loadMasks(spec, PLATE, FRAMES)
      expect(FRAMES.map((f) => masks.get(f)!.rect.x)).toEqual([10, 20, 30])
      expect(unionBox(masks.values())).toEqual({ x: 10, y: 20, w: 32, h: 30 })
    }
  })

  test('that counts something else than frames holds stills, and which is meant is said', async () => {
    const stills = join(folder, 'stills')
    mkdirSync(stills, { recursive: true })
    await plantMask(join(stills, 'p01.mask.png'), boxOf(10, 20, 12, 30))
    await plantMask(join(stills, 'p03.mask.png'), boxOf(50, 20, 12, 30))
    const said: string[] = []
    const plate = { ...PLATE, frames: Array.from({ length: 50 }, (_, i) => 1001 + i) }
    const masks = await loadMasks(join(stills, 'p03.mask.png'), plate, FRAMES, 'same', (s) => said.push(s))
    for (const frame of FRAMES) expect(masks.get(frame)!.rect).toEqual({ x: 50, y: 20, w: 12, h: 30 })
    expect(said).toHaveLength(1)
    const two = await loadMasks(join(stills, 'p03.mask.png'), plate, FRAMES.slice(0, 2))
    expect([...two.values()].map(({ rect }) => rect.x)).toEqual([50, 50])
    expect(said[0]).toMatch(/p03\.mask\.png is taken as one still mask, .*\(they are 1, 3\)/)
  })

  test('that is a movie is refused as one, whichever frames are asked for', async () => {
    const movie = join(folder, 'moving.mov')
    const source = 'color=white:size=160x120:rate=8:duration=1'
    execFileSync('ffmpeg', ['-y', '-loglevel', 'error', '-f', 'lavfi', '-i', source, movie])
    for (const frame of [2, 1002]) {
      await expectRefusal(() => loadMasks(movie, PLATE, [frame]), {
        code: 'MASK_UNREADABLE',
        exitCode: 2,
        says: [movie, 'is a movie', 'numbered frames'],
      })
    }
  })

  test('that misses a frame is refused with the frame and what it has', async () => {
    await plant()
    await expectRefusal(() => loadMasks(sequence, PLATE, [1003, 1004, 1005]), {
      code: 'MASK_FRAME_MISSING',
      exitCode: 2,
      says: [sequence, '1005', '1001-1004', '`frames`'],
    })
    const many = Array.from({ length: 9 }, (_, i) => 2001 + i)
    await expectRefusal(() => loadMasks(sequence, PLATE, many), {
      code: 'MASK_FRAME_MISSING',
      exitCode: 2,
      says: ['frames 2001-2009 (it has 1001-1004)'],
    })
  })

  const otherwise = [
    {
      title: 'as many as the plate has frames',
      plate: Array.from({ length: 4 }, (_, i) => 86_401 + i),
      frames: [86_402, 86_403],
      advice: 'it has as many files as the plate has frames, so number them as those are, 86401-86404, or',
    },
    {
      title: 'as many as are asked for',
      plate: Array.from({ length: 50 }, (_, i) => 1 + i),
      frames: [11, 12, 13, 14],
      advice: 'it has as many files as frames are asked for, so number them as those are, 11-14, or',
    },
    {
      title: 'of another count',
      plate: Array.from({ length: 50 }, (_, i) => i),
      frames: [10, 11],
      advice: "number its files as the plate's frames are, which are 0-49, or give one still mask",
    },
    {
      title: 'of the plate, yet not of these frames',
      plate: Array.from({ length: 50 }, (_, i) => 1001 + i),
      frames: [1004, 1005],
      advice: 'supply the missing frames, narrow `frames`, or give one still mask',
    },
  ]
  test.each(otherwise)(
    'that is counted otherwise is told how to be: $title',
    async ({ plate, frames, advice }) => {
      await plant()
      await expectRefusal(() => loadMasks(sequence, { ...PLATE, frames: plate }, frames), {
        code: 'MASK_FRAME_MISSING',
        exitCode: 2,
        says: ['(it has 1001-1004): ', advice],
      })
    },
  )

  test('may be empty on a frame, not on all', async () => {
    const some = join(folder, 'some')
    mkdirSync(some)
    await plantMask(join(some, 'm.1001.png'), boxOf(10, 10, 20, 20))
    await plantMask(join(some, 'm.1002.png'), () => 0)
    await plantMask(join(some, 'm.1003.png'), () => 0)
    const masks = await loadMasks(some, PLATE, FRAMES)
    expect(masks.get(1002)!.rect.w).toBe(0)
    await expectRefusal(() => loadMasks(some, PLATE, [1002, 1003]), {
      code: 'MASK_EMPTY',
      exitCode: 2,
      says: [some],
    })
  })
})

describe('a mask that is no use', () => {
  test('with several layers and no main picture is refused as that', async () => {
    const path = fileURLToPath(new URL('../../fixtures/exr/which-layer.exr', import.meta.url))
    await expectRefusal(() => still(path), {
      code: 'MASK_UNREADABLE',
      exitCode: 2,
      says: [path, 'several layers', 'without a layer name'],
    })
  })

  test('is refused as clear where its alpha is 0 all over, whatever colour lies under it', async () => {
    const path = await raw('clear.png', 4, () => [255, 255, 255, 0])
    await expectRefusal(() => still(path), {
      code: 'MASK_EMPTY',
      exitCode: 2,
      says: [path, 'clear all over', 'opaque'],
    })
  })

  test('is refused by name where it is black all over', async () => {
    const path = await plantMask(join(folder, 'black.png'), () => 0)
    await expectRefusal(() => still(path), { code: 'MASK_EMPTY', exitCode: 2, says: [path, 'white'] })
  })

  test('is refused by name where it is no picture', async () => {
    const path = join(folder, 'broken.png')
    writeFileSync(path, 'not a picture')
    await expectRefusal(() => still(path), { code: 'MASK_UNREADABLE', exitCode: 1, says: [path, 'PNG'] })
  })

  test('is refused by name where it is not there', async () => {
    const path = join(folder, 'nowhere', 'm.png')
    await expectRefusal(() => still(path), {
      code: 'MASK_NOT_FOUND',
      exitCode: 2,
      says: [`the mask ${path} does not exist`],
    })
  })
})

describe('a box', () => {
  test('that reaches beyond the frame is refused with the plate’s size and its part inside', async () => {
    await expectRefusal(() => boxMask({ x: -10, y: 100, w: 30, h: 50 }, PLATE), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['`box`', '160 x 120', '"-10,100,30,50"', '0,100,20,20'],
    })
  })

  test('of one pixel is a region', () => {
    expect(boxMask({ x: 159, y: 119, w: 1, h: 1 }, PLATE)).toEqual({
      rect: { x: 159, y: 119, w: 1, h: 1 },
      data: Float32Array.of(1),
    })
  })

  test.each([
    { title: 'outside the frame', box: { x: 160, y: 0, w: 5, h: 5 } },
    { title: 'without area', box: { x: 10, y: 10, w: 0, h: 5 } },
    { title: 'turned inside out', box: { x: 10, y: 10, w: -4, h: 5 } },
    { title: 'in fractions of a pixel', box: { x: 10.5, y: 10, w: 4, h: 5 } },
    { title: 'that is not a number', box: { x: Number.NaN, y: 10, w: 4, h: 5 } },
  ])('$title is refused with the plate’s size', async ({ box }) => {
    await expectRefusal(() => boxMask(box, PLATE), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['`box`', '160 x 120', `${box.x},${box.y},${box.w},${box.h}`],
    })
  })
})

test('a mask beside its plate is read, and neither is touched', async () => {
  const beside = join(folder, 'beside')
  mkdirSync(beside)
  cpSync(join(folder, 'box.png'), join(beside, 'matte.png'))
  for (const f of [1, 2]) await plantMask(join(beside, `quay.${f}.png`), () => 0.5)
  expect((await still(join(beside, 'matte.png'))).rect).toEqual({ x: 30, y: 40, w: 20, h: 10 })
})
