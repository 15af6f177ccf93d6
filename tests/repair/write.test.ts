// What patch leaves on disk, read back by other programs' code: sharp for PNG, three's EXRLoader for EXR.
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { FloatType, HalfFloatType } from 'three'
import { EXRLoader } from 'three/examples/jsm/loaders/EXRLoader.js'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { exrReader } from '../../src/footage/exr/reader.js'
import { readStored } from '../../src/footage/exr/stored.js'
import { openPlate } from '../../src/footage/plate.js'
import { writeExr } from '../../src/footage/write/exr.js'
import type { Progress } from '../../src/progress.js'
import { frame } from '../../src/raster/frame.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../src/repair/repair.js'
import { frameName, type WriteOptions, writeCandidate } from '../../src/repair/write.js'
import { srgbOf } from '../codes.js'
import { normal, type Planted, plantPlate, texturedWall, writeFloatTiff } from '../synthetic.js'
import { distance, resultFor } from './job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-write-candidate-'))
afterAll(() => rmSync(folder, { recursive: true }))

const FEATHER = 4
const LENT = [
  { target: 1002, donor: 1005, dx: 0.3, dy: -0.6, gain: [1.1, 1, 0.9] as const },
  { target: 1003, donor: 1005, dx: 0, dy: 0 },
]
let n = 0

async function written(plate: string, options: WriteOptions, more: Parameters<typeof resultFor>[2] = {}) {
  const { result, candidate } = resultFor(plate, LENT, { frames: 6, ...more })
  const out = join(folder, `out${n++}`)
  mkdirSync(out)
  const job = await openRepair(result)
  const names = await writeCandidate(job, candidate, out, { featherPx: FEATHER, ...options })
  expect(readdirSync(out).sort()).toEqual([...names].sort())
  return { out, names, job, candidate }
}

/** RGBA from the top row down, over the data window. Half floats come as their bits. */
function readExr(path: string, type: typeof FloatType | typeof HalfFloatType) {
  const bytes = readFileSync(path)
  const parsed = new EXRLoader().setDataType(type).parse(new Uint8Array(bytes).buffer) as unknown as {
    width: number
    height: number
    data: Float32Array | Uint16Array
    header: { dataWindow: Window; displayWindow: Window; channels: { name: string; pixelType: number }[] }
  }
  const { width, height, data, header } = parsed
  const channels = data.length / (width * height)
  const at = (x: number, y: number, c: number) => data[((height - 1 - y) * width + x) * channels + c]
  return { width, height, header, at }
}
interface Window {
  xMin: number
  yMin: number
  xMax: number
  yMax: number
}

async function codes(path: string, depth: 'uchar' | 'ushort') {
  const picture = sharp(path, { ignoreIcc: true })
  if (depth === 'ushort') picture.toColourspace('rgb16')
  const { data, info } = await picture.raw({ depth }).toBuffer({ resolveWithObject: true })
  const samples = depth === 'ushort' ? new Uint16Array(new Uint8Array(data).buffer) : new Uint8Array(data)
  return { samples, info }
}

/** Compares two pictures outside the feathered mask, and says whether anything changed inside. */
function compare(before: ArrayLike<number>, after: ArrayLike<number>) {
  expect(after.length).toBe(before.length)
  let outside = 0
  let inside = 0
  for (let i = 0; i < before.length; i++) {
    const p = Math.floor(i / 3)
    if (Object.is(before[i], after[i])) continue
    if (distance(p % 160, Math.floor(p / 160)) > FEATHER) outside++
    else inside++
  }
  return { outside, inside }
}

async function greyPictures(dir: string, names: readonly string[]): Promise<void> {
  const grey = sharp({ create: { width: 4, height: 4, channels: 3, background: 'grey' } }).png()
  for (const name of names) await grey.clone().toFile(join(dir, name))
}

let plate: Planted
beforeAll(async () => {
  plate = await plantPlate(join(folder, 'plate'), {
    frames: 6,
    occluders: (i) => (i < 3 ? [{ x: 62, y: 42, w: 18, h: 24, light: 0.02 }] : []),
  })
})

describe('whole frames', () => {
  test('of a 16-bit PNG plate are the plate’s bits outside the feathered mask', async () => {
    const { out, names } = await written(plate.folder, { whole: true, addGrain: false })
    expect(names).toEqual(['quay_repaired.1002.png', 'quay_repaired.1003.png'])
    for (const [i, name] of names.entries()) {
      expect(await sharp(join(out, name)).metadata()).toMatchObject({
        width: 160,
        height: 120,
        depth: 'ushort',
      })
      const before = await codes(plate.pathOf(1002 + i), 'ushort')
      const after = await codes(join(out, name), 'ushort')
      const { outside, inside } = compare(before.samples, after.samples)
      expect(outside).toBe(0)
      expect(inside).toBeGreaterThan(1000)
    }
    // The second is lent by whole pixels in the same light: the middle of the mask is the donor's own wall.
    const after = await codes(join(out, names[1]), 'ushort')
    const donor = await codes(plate.pathOf(1005), 'ushort')
    const i = 3 * (55 * 160 + 70)
    for (let c = i; c < i + 3; c++)
      expect(Math.abs(after.samples[c] - donor.samples[c])).toBeLessThanOrEqual(2)
  })

  test.each(['cineon', 'acescct', 'log3g10'])(
    'of a 16-bit plate in %s are the plate’s bits outside the mask, codes that no light has included',
    async (encoding) => {
      const dir = join(folder, encoding)
      mkdirSync(dir)
      // Every code from black to white, in places where the curve has no way back as well.
      const ramp = Uint16Array.from({ length: 3 * 160 * 120 }, (_, i) => (i * 7919) % 65536)
      for (const f of plate.frames)
        await sharp(ramp, { raw: { width: 160, height: 120, channels: 3 } })
          .toColourspace('rgb16')
          .png({ compressionLevel: 1 })
          .toFile(join(dir, `quay.${f}.png`))
      const { out, names } = await written(dir, { whole: true }, { encoding })
      const after = await codes(join(out, names[0]), 'ushort')
      expect(compare(ramp, after.samples).outside).toBe(0)
    },
  )

  test('of an 8-bit PNG plate are 8-bit and the plate’s bits outside the feathered mask', async () => {
    const dir = join(folder, 'eight')
    mkdirSync(dir)
    for (const f of plate.frames)
      await sharp(plate.pathOf(f))
        .toColourspace('srgb')
        .png()
        .toFile(join(dir, `quay.${f}.png`))
    const { out, names } = await written(dir, { whole: true })
    for (const [i, name] of names.entries()) {
      expect(await sharp(join(out, name)).metadata()).toMatchObject({
        width: 160,
        height: 120,
        depth: 'uchar',
      })
      const before = await codes(join(dir, `quay.${1002 + i}.png`), 'uchar')
      const { outside, inside } = compare(before.samples, (await codes(join(out, name), 'uchar')).samples)
      expect(outside).toBe(0)
      expect(inside).toBeGreaterThan(1000)
    }
  })

  test.each(['uchar', 'ushort'] as const)('of a PNG plate with %s alpha keep it as stored', async (depth) => {
    const dir = join(folder, `alpha-${depth}`)
    mkdirSync(dir)
    const full = depth === 'uchar' ? 255 : 65535
    const Samples = depth === 'uchar' ? Uint8Array : Uint16Array
    for (const f of plate.frames) {
      const { samples } = await codes(plate.pathOf(f), depth)
      const rgba = new Samples(4 * 160 * 120)
      for (let i = 0; i < 160 * 120; i++) {
        for (let c = 0; c < 3; c++) rgba[4 * i + c] = samples[3 * i + c]
        rgba[4 * i + 3] = (i * 7 + f) % (full + 1)
      }
      const picture = sharp(rgba, { raw: { width: 160, height: 120, channels: 4 } })
      await (depth === 'ushort' ? picture.toColourspace('rgb16') : picture)
        .png()
        .toFile(join(dir, `quay.${f}.png`))
    }
    const { out, names } = await written(dir, { whole: true })
    for (const [i, name] of names.entries()) {
      expect(await sharp(join(out, name)).metadata()).toMatchObject({ channels: 4, depth })
      const before = (await codes(join(dir, `quay.${1002 + i}.png`), depth)).samples
      const after = (await codes(join(out, name), depth)).samples
      expect(after.length).toBe(before.length)
      const alpha = (samples: ArrayLike<number>) =>
        Array.from({ length: samples.length / 4 }, (_, p) => samples[4 * p + 3])
      expect(alpha(after)).toEqual(alpha(before))
      const colours = (samples: ArrayLike<number>) =>
        Array.from({ length: (3 * samples.length) / 4 }, (_, k) => samples[4 * Math.floor(k / 3) + (k % 3)])
      const { outside, inside } = compare(colours(before), colours(after))
      expect(outside).toBe(0)
      expect(inside).toBeGreaterThan(1000)
    }
  })

  test('of an EXR plate with alpha keep it bit by bit', async () => {
    const dir = join(folder, 'exr-alpha')
    mkdirSync(dir)
    for (const f of plate.frames) {
      const image = frame(120, 160, 4)
      for (let i = 0; i < image.data.length; i++) image.data[i] = ((i * 13 + f) % 97) / 97
      await writeExr(join(dir, `quay.${f}.exr`), image, { displayWindow: { x: 0, y: 0, w: 160, h: 120 } })
    }
    const { out, names } = await written(dir, { whole: true }, { encoding: 'linear' })
    const before = readExr(join(dir, 'quay.1002.exr'), HalfFloatType)
    const after = readExr(join(out, names[0]), HalfFloatType)
    expect(after.header.channels.map((c) => c.name).sort()).toEqual(['A', 'B', 'G', 'R'])
    let wrong = 0
    for (let y = 0; y < 120; y++)
      for (let x = 0; x < 160; x++) {
        if (after.at(x, y, 3) !== before.at(x, y, 3)) wrong++
        for (let c = 0; c < 3; c++)
          if (distance(x, y) > FEATHER && after.at(x, y, c) !== before.at(x, y, c)) wrong++
      }
    expect(wrong).toBe(0)
  })

  test('of a half EXR plate are the plate’s bits outside the feathered mask, what is not finite included', async () => {
    const dir = join(folder, 'half')
    mkdirSync(dir)
    const wall = texturedWall(2)
    for (const f of plate.frames) {
      const grain = normal(f)
      const image = frame(120, 160, 3)
      for (let i = 0; i < image.data.length; i++)
        image.data[i] = wall((i / 3) % 160, i / 480) * (1 + 0.01 * grain())
      // A lamp, black below black, and broken pixels, all away from the mask.
      image.data.set([900, 64000, -0.25, Number.NaN, Infinity, -Infinity, 1e-7, -0, 0], 3 * (10 * 160 + 10))
      await writeExr(join(dir, `quay.${f}.exr`), image, {
        displayWindow: { x: 0, y: 0, w: 160, h: 120 },
        nonFinite: 'keep',
      })
    }
    const { out, names } = await written(dir, { whole: true }, { encoding: 'linear' })
    expect(names).toEqual(['quay_repaired.1002.exr', 'quay_repaired.1003.exr'])
    const before = readExr(join(dir, 'quay.1002.exr'), HalfFloatType)
    const after = readExr(join(out, names[0]), HalfFloatType)
    expect(after.header.displayWindow).toEqual(before.header.displayWindow)
    expect(after.header.dataWindow).toEqual(before.header.dataWindow)
    const flat = ({ at }: typeof before) =>
      Array.from({ length: 3 * 160 * 120 }, (_, i) => {
        const p = Math.floor(i / 3)
        return at(p % 160, Math.floor(p / 160), i % 3)
      })
    const { outside, inside } = compare(flat(before), flat(after))
    expect(outside).toBe(0)
    expect(inside).toBeGreaterThan(1000)
    expect(after.at(11, 10, 1)).toBe(0x7c00)
    // The plate's headers count no frames, its file names do.
    expect(await exrReader.probe(join(out, names[0]))).toMatchObject({ imageCounter: 1002 })
  })

  describe('of an EXR plate in ZIP, whose blocks are taken over where nothing is laid', () => {
    const window = { x: 0, y: 0, w: 160, h: 120 }
    async function shotAs(name: string, channels: 3 | 4, compression: 'zip' | 'none'): Promise<string> {
      const dir = join(folder, name)
      mkdirSync(dir)
      for (const f of plate.frames) {
        const image = frame(120, 160, channels)
        for (let i = 0; i < image.data.length; i++) image.data[i] = ((i * 7 + f) % 89) / 89
        image.data.set([Number.NaN, Infinity, -0], channels * (10 * 160 + 10))
        const options = { displayWindow: window, nonFinite: 'keep', compression } as const
        await writeExr(join(dir, `quay.${f}.exr`), image, options)
      }
      return dir
    }

    test.each([3, 4] as const)(
      '%i channels are the same samples as of one that is not packed',
      async (channels) => {
        const more = { encoding: 'linear', empty: [1004] }
        const zipped = await shotAs(`zip-${channels}`, channels, 'zip')
        const plain = await shotAs(`plain-${channels}`, channels, 'none')
        const [a, b] = [
          await written(zipped, { whole: true }, more),
          await written(plain, { whole: true }, more),
        ]
        expect(a.names).toEqual(b.names)
        expect(a.names).toHaveLength(3)
        for (const name of a.names) {
          const [left, right] = [
            readExr(join(a.out, name), HalfFloatType),
            readExr(join(b.out, name), HalfFloatType),
          ]
          expect(left.header.dataWindow).toEqual(right.header.dataWindow)
          let apart = 0
          for (let y = 0; y < 120; y++)
            for (let x = 0; x < 160; x++)
              for (let c = 0; c < channels; c++) if (left.at(x, y, c) !== right.at(x, y, c)) apart++
          expect(apart, name).toBe(0)
        }
        const blocks = async (path: string) => (await readStored(path, undefined))!.blocks
        const before = await blocks(join(zipped, 'quay.1002.exr'))
        const after = await blocks(join(a.out, a.names[0]!))
        const kept = before.flatMap((block, i) => (Buffer.compare(block, after[i]!) === 0 ? [i] : []))
        // The feathered mask lies on rows of the blocks between.
        expect(kept).toEqual([0, 1, 5, 6, 7])
      },
    )

    test('a block that is broken is told, though nothing is laid on it', async () => {
      const dir = await shotAs('zip-broken', 3, 'zip')
      const path = join(dir, 'quay.1002.exr')
      const bytes = readFileSync(path)
      bytes[bytes.length - 40]! ^= 0x55
      writeFileSync(path, bytes)
      await expect(written(dir, { whole: true }, { encoding: 'linear' })).rejects.toMatchObject({
        code: 'FRAME_UNREADABLE',
        message: expect.stringContaining('quay.1002.exr'),
      })
    })
  })

  describe('of an EXR plate whose data window is not its display window', () => {
    // Display windows need not begin at (0, 0); the box is counted from their corner.
    const display = { x: 16, y: 8, w: 160, h: 120 }
    test.each([
      { title: 'smaller, round the box', data: { x: 40, y: 20, w: 100, h: 80 }, grown: 0 },
      // Donors have the missing part: their windows lie further to the left, as of a stabilised plate.
      { title: 'smaller, through the box', data: { x: 70, y: 20, w: 60, h: 80 }, grown: 10 + FEATHER },
      { title: 'larger (overscan)', data: { x: -10, y: -6, w: 180, h: 132 }, grown: 0 },
    ])('$title, have what the plate has and where the patch lies, and no more', async ({ data, grown }) => {
      const dir = join(folder, `window-${data.x}`)
      mkdirSync(dir)
      for (const f of plate.frames) {
        const left = f === 1005 ? Math.min(data.x, 40) : data.x
        const w = data.x + data.w - left
        const image = frame(data.h, w, 4)
        for (let i = 0; i < image.data.length; i++) image.data[i] = (1 + ((i * 13 + f) % 97)) / 98
        const origin = { x: display.x + left, y: display.y + data.y }
        await writeExr(join(dir, `quay.${f}.exr`), image, { displayWindow: display, origin })
      }
      const { out, names } = await written(dir, { whole: true }, { encoding: 'linear', empty: [1004] })
      expect(names).toHaveLength(3)
      for (const name of names) {
        const before = readExr(join(dir, name.replace('_repaired', '')), HalfFloatType)
        const after = readExr(join(out, name), HalfFloatType)
        const { dataWindow, displayWindow } = after.header
        const more = name.includes('1004') ? 0 : grown
        expect(displayWindow).toEqual(before.header.displayWindow)
        expect(dataWindow).toEqual({
          ...before.header.dataWindow,
          xMin: before.header.dataWindow.xMin - more,
        })
        let wrong = 0
        let changed = 0
        for (let y = 0; y < after.height; y++)
          for (let x = 0; x < after.width; x++)
            for (let c = 0; c < 4; c++) {
              const own = x < more ? 0 : before.at(x - more, y, c)
              if (after.at(x, y, c) === own) continue
              if (c === 3 || distance(data.x - more + x, data.y + y) > FEATHER) wrong++
              else changed++
            }
        expect(wrong, name).toBe(0)
        expect(changed > 1000, name).toBe(!name.includes('1004'))
      }
    })
  })

  test('of a float TIFF plate come as float EXR with the plate’s values outside the feathered mask', async () => {
    const dir = join(folder, 'float')
    mkdirSync(dir)
    const wall = texturedWall(2)
    const shot = (f: number) => {
      const grain = normal(f)
      return Float32Array.from(
        { length: 3 * 160 * 120 },
        (_, i) => wall((i / 3) % 160, i / 480) * (1 + 0.01 * grain()),
      )
    }
    for (const f of plate.frames) writeFloatTiff(join(dir, `quay.${f}.tif`), shot(f), 160, 120)
    const { out, names } = await written(dir, { whole: true }, { encoding: 'linear' })
    const { at } = readExr(join(out, names[0]), FloatType)
    const after = Array.from({ length: 3 * 160 * 120 }, (_, i) => {
      const p = Math.floor(i / 3)
      return at(p % 160, Math.floor(p / 160), i % 3)
    })
    const { outside, inside } = compare(shot(1002), after)
    expect(outside).toBe(0)
    expect(inside).toBeGreaterThan(1000)
  })
})

describe('a patch', () => {
  test('as EXR is half, premultiplied, in the plate’s frame, and nothing outside the feathered mask', async () => {
    const { out, names, job, candidate } = await written(plate.folder, {})
    expect(names).toEqual(['quay_patch.1002.exr', 'quay_patch.1003.exr'])
    for (const [k, name] of names.entries()) {
      const made = await repairFrame(job, candidate, candidate.frames[k], { featherPx: FEATHER })
      const { at, width, height, header } = readExr(join(out, name), FloatType)
      expect(header.displayWindow).toEqual({ xMin: 0, yMin: 0, xMax: 159, yMax: 119 })
      const { xMin, yMin } = header.dataWindow
      expect([xMin, yMin, width, height]).toEqual([made.rect.x, made.rect.y, made.rect.w, made.rect.h])
      expect(header.channels.map((c) => c.name).sort()).toEqual(['A', 'B', 'G', 'R'])
      // 1 is half in the file's channel list (OpenEXR File Layout, chlist).
      expect(new Set(header.channels.map((c) => c.pixelType))).toEqual(new Set([1]))
      let partial = 0
      let wrong = 0
      for (let y = 0, i = 0; y < height; y++)
        for (let x = 0; x < width; x++, i++) {
          const a = at(x, y, 3)
          const d = distance(x + xMin, y + yMin)
          if (Math.abs(a - Math.max(0, 1 - d / (FEATHER + 1))) > 1e-3) wrong++
          if (a > 0 && a < 1) partial++
          for (let c = 0; c < 3; c++) {
            const v = made.patch.data[3 * i + c]
            // Half a unit in the last place of a half, twice: of the colour and of alpha.
            if (Math.abs(at(x, y, c) - v * made.alpha[i]) > Math.abs(v) * 2 ** -10) wrong++
            if (d > FEATHER && at(x, y, c) !== 0) wrong++
          }
        }
      expect(wrong).toBe(0)
      expect(partial).toBeGreaterThan(100)
    }
  })

  test('laid over the plate is the repaired frame', async () => {
    const patch = await written(plate.folder, {})
    const { at, header } = readExr(join(patch.out, patch.names[0]), FloatType)
    const made = await repairFrame(patch.job, patch.candidate, patch.candidate.frames[0], {
      featherPx: FEATHER,
    })
    let worst = 0
    for (let y = 0, i = 0; y < made.rect.h; y++)
      for (let x = 0; x < made.rect.w; x++, i++)
        for (let c = 0; c < 3; c++) {
          // The over operation on premultiplied alpha (Porter and Duff, Compositing Digital Images, 1984).
          const laid = at(x, y, c) + (1 - at(x, y, 3)) * made.target.data[3 * i + c]
          worst = Math.max(worst, Math.abs(laid - made.repaired.data[3 * i + c]))
        }
    expect(header.dataWindow.xMin).toBe(made.rect.x)
    expect(worst).toBeLessThan(0.001)
  })

  test('as PNG has the plate’s size, 16 bits and straight alpha in the plate’s encoding', async () => {
    const { out, names, job, candidate } = await written(plate.folder, { format: 'png' })
    expect(names).toEqual(['quay_patch.1002.png', 'quay_patch.1003.png'])
    const path = join(out, names[0])
    expect(await sharp(path).metadata()).toMatchObject({
      width: 160,
      height: 120,
      channels: 4,
      depth: 'ushort',
    })
    const { samples } = await codes(path, 'ushort')
    const made = await repairFrame(job, candidate, candidate.frames[0], { featherPx: FEATHER })
    let wrong = 0
    for (let y = 0; y < 120; y++)
      for (let x = 0; x < 160; x++) {
        const i = 4 * (y * 160 + x)
        const d = distance(x, y)
        if (Math.abs(samples[i + 3] / 65535 - Math.max(0, 1 - d / (FEATHER + 1))) > 1e-4) wrong++
        if (d > FEATHER) {
          if (samples[i] + samples[i + 1] + samples[i + 2] > 0) wrong++
          continue
        }
        const k = 3 * ((y - made.rect.y) * made.rect.w + x - made.rect.x)
        for (let c = 0; c < 3; c++)
          if (Math.abs(samples[i + c] / 65535 - srgbOf(made.patch.data[k + c])) > 1e-4) wrong++
      }
    expect(wrong).toBe(0)
  })

  test.each(['png', 'tif'] as const)('as %s of a plate brighter than it can hold says so', async (format) => {
    const dir = join(folder, `bright-${format}`)
    mkdirSync(dir)
    for (const f of plate.frames) {
      const image = frame(120, 160, 3)
      image.data.fill(f >= 1004 ? 3 : 0.2)
      await writeExr(join(dir, `quay.${f}.exr`), image, { displayWindow: { x: 0, y: 0, w: 160, h: 120 } })
    }
    const clipped: [number, number][] = []
    const onClipped = (f: number, most: number) => void clipped.push([f, most])
    await written(dir, { format, onClipped, addGrain: false }, { encoding: 'linear' })
    expect(clipped.map(([f]) => f)).toEqual([1002, 1003])
    for (const [i, [, most]] of clipped.entries())
      expect(most).toBeCloseTo(3 * Math.max(...(LENT[i].gain ?? [1])), 2)
    clipped.length = 0
    await written(dir, { onClipped, addGrain: false }, { encoding: 'linear' })
    expect(clipped).toEqual([])
  })

  test('shows the wall where the thing in the way stood', async () => {
    const { out, names } = await written(plate.folder, {})
    const { at, header } = readExr(join(out, names[1]), FloatType)
    // Clean truth under the occluder, within grain of 1 % (five sigma) and a half's step.
    const truth = plate.clean(1003)
    const { xMin, yMin } = header.dataWindow
    for (const [x, y] of [
      [65, 45],
      [70, 55],
      [78, 64],
    ])
      for (let c = 0; c < 3; c++) {
        const t = truth[3 * (y * 160 + x) + c]
        expect(Math.abs(at(x - xMin, y - yMin, c) / t - 1)).toBeLessThan(0.06)
      }
  })
})

describe('a frame whose mask is black', () => {
  const more = { empty: [1004] }

  test('gets a patch that is clear all over, in its place among the others', async () => {
    for (const format of ['exr', 'png'] as const) {
      const { out, names } = await written(plate.folder, { format }, more)
      expect(names).toEqual([1002, 1003, 1004].map((f) => `quay_patch.${f}.${format}`))
      // Premultiplied or not, a clear patch is 0 in every channel.
      const samples =
        format === 'png'
          ? (await codes(join(out, names[2]), 'ushort')).samples
          : (await exrReader.read(join(out, names[2]), { x: 0, y: 0, w: 160, h: 120 }, { layer: undefined }))
              .data
      expect(samples.every((v) => v === 0)).toBe(true)
    }
  })

  test('comes as the plate’s own frame among whole ones', async () => {
    const { out, names } = await written(plate.folder, { whole: true }, more)
    expect(names[2]).toBe('quay_repaired.1004.png')
    const before = await codes(plate.pathOf(1004), 'ushort')
    expect((await codes(join(out, names[2]), 'ushort')).samples).toEqual(before.samples)
  })
})

describe('names', () => {
  test.each([
    ['quay.1001.png', 1001, 'quay_patch.1001.exr'],
    ['quay-v2_0007.png', 7, 'quay-v2_patch.0007.exr'],
    ['wall.png', 1, 'wall_patch.0001.exr'],
    ['quay.00012.png', 12, 'quay_patch.00012.exr'],
    // the number is where the sequence counts, not the last in the name
    ['quay_1030_v2.png quay_1031_v2.png', 1030, 'quay_v2_patch.1030.exr'],
    ['2nd.take.1001.v3.png 2nd.take.1002.v3.png', 1002, '2nd.take.v3_patch.1002.exr'],
    ['quay.-0001.png quay.0000.png quay.0001.png', -1, 'quay_patch.-0001.exr'],
    ['quay.-0001.png quay.0000.png quay.0001.png', 0, 'quay_patch.0000.exr'],
    ['quay.9.png quay.10.png', 9, 'quay_patch.9.exr'],
    ['1001_v2.png 1002_v2.png', 1001, 'v2_patch.1001.exr'],
  ])('of %s carry the plate’s own number', async (files, number, wanted) => {
    const dir = join(folder, `name-${files} ${number}`)
    mkdirSync(dir)
    await greyPictures(dir, files.split(' '))
    expect(frameName(await openPlate(dir), number, 'patch', 'exr')).toBe(wanted)
  })

  test('of files with nothing but a number carry the name of their folder', async () => {
    for (const name of ['quay_left', 'quay_right']) {
      const dir = join(folder, name)
      mkdirSync(dir)
      await greyPictures(dir, ['1001.png', '1002.png'])
      const plate = await openPlate(dir)
      expect(plate.name).toBe('####.png')
      expect(frameName(plate, 1001, 'patch', 'exr')).toBe(`${name}_patch.1001.exr`)
    }
  })
})

test('writing reports each frame and stops when called off', async () => {
  const reports: Progress[] = []
  await written(plate.folder, { onProgress: (p) => reports.push(p) })
  expect(reports.map((r) => `${r.done}/${r.total}`)).toEqual(['1/2', '2/2'])
  const stop = new AbortController()
  const reason = new Error('called off')
  await expect(
    written(plate.folder, { signal: stop.signal, onProgress: () => stop.abort(reason) }),
  ).rejects.toBe(reason)
})

test('the same candidate written twice is the same bytes', async () => {
  const [a, b] = [await written(plate.folder, {}), await written(plate.folder, {})]
  for (const name of a.names)
    expect(readFileSync(join(a.out, name)).equals(readFileSync(join(b.out, name)))).toBe(true)
})

test('a TIFF patch holds what the PNG patch holds', async () => {
  const plate = await plantPlate(join(folder, 'tiffs'), { frames: 6 })
  const png = await written(plate.folder, { format: 'png' })
  const tif = await written(plate.folder, { format: 'tif' })
  expect(tif.names).toEqual(png.names.map((name) => name.replace('.png', '.tif')))
  const pixels = (out: string, name: string) =>
    sharp(join(out, name)).toColourspace('rgb16').raw({ depth: 'ushort' }).toBuffer()
  for (const [i, name] of tif.names.entries()) {
    expect(Buffer.compare(await pixels(tif.out, name), await pixels(png.out, png.names[i]))).toBe(0)
  }
})

test('a plate whose display window begins elsewhere gets a patch in that window', async () => {
  const plate = join(folder, 'elsewhere')
  mkdirSync(plate)
  const picture = frame(120, 160, 3)
  for (let i = 0; i < picture.data.length; i++) picture.data[i] = 0.2 + 0.1 * Math.sin(i * 0.7)
  const displayWindow = { x: -20, y: 30, w: 160, h: 120 }
  for (let f = 1001; f <= 1006; f++) await writeExr(join(plate, `quay.${f}.exr`), picture, { displayWindow })
  const { out, names } = await written(plate, {})
  const { exrReader } = await import('../../src/footage/exr/reader.js')
  expect(await exrReader.probe(join(out, names[0]), {})).toMatchObject({ displayWindow })
})
