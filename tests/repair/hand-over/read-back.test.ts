// What was written is read again. Every fault is planted in a file that was right, and must be found on its frame alone.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { exrReader } from '../../../src/footage/exr/reader.js'
import { type ExrOptions, writeExr } from '../../../src/footage/write/exr.js'
import { type Frame, frame } from '../../../src/raster/frame.js'
import { FAULTS, ratioFaults, wholeFaults } from '../../../src/repair/hand-over/faults.js'
import type { Patch } from '../../../src/repair/hand-over/patch.js'
import { readBack } from '../../../src/repair/hand-over/read-back.js'
import { openRepair, type RepairJob } from '../../../src/repair/repair.js'
import { writePatchFolder } from '../../../src/sheet/patch-folder.js'
import { type Planted, plantPlate } from '../../synthetic.js'
import { BOX, resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-read-back-'))
afterAll(() => rmSync(folder, { recursive: true }))

const FEATHER = 4
const DISPLAY = { x: 0, y: 0, w: 160, h: 120 }
let plate: Planted
let halves: string
beforeAll(async () => {
  plate = await plantPlate(join(folder, 'plate'), { frames: 6 })
  halves = join(folder, 'halves')
  mkdirSync(halves)
  for (let f = 1001; f <= 1006; f++) {
    const image = frame(120, 160, 4)
    for (let i = 0; i < image.data.length; i++) image.data[i] = ((i * 13 + f) % 97) / 97
    image.data[0] = Number.NaN
    await writeExr(join(halves, `quay.${f}.exr`), image, { displayWindow: DISPLAY, nonFinite: 'keep' })
  }
})

let n = 0
interface Made {
  readonly out: string
  readonly job: RepairJob
  readonly patch: Patch
  readonly path: string
}

async function made(of: string, options: Parameters<typeof writePatchFolder>[3] = {}): Promise<Made> {
  const lent = [1002, 1003].map((target) => ({ target, donor: 1005, dx: 0.3 }))
  const encoding = of === plate.folder ? 'srgb' : 'linear'
  const { result, candidate } = resultFor(of, lent, { frames: 6, empty: [1004], encoding })
  const out = join(folder, `out${n++}`)
  mkdirSync(out)
  const job = await openRepair(result)
  const patch = await writePatchFolder(out, job, candidate, { featherPx: FEATHER, ...options })
  return { out, job, patch, path: join(out, patch.frames[0].file) }
}

const again = ({ out, job, patch }: Made) => readBack(out, job, patch)

test.each([
  ['a patch', {}],
  ['a 16-bit patch', { format: 'png' }],
  ['whole frames', { whole: true }],
] as const)('%s as it was written is right, a black mask’s frame included', async (_, options) => {
  expect(readBackOf(await made(plate.folder, options))).toEqual([])
})

test('whole frames of a half-float plate with alpha are right, what is not finite outside the mask included', async () => {
  expect(readBackOf(await made(halves, { whole: true }))).toEqual([])
})

test('whole frames of a plate with overscan are right, and one without its overscan is not', async () => {
  const dir = join(folder, 'overscan')
  mkdirSync(dir)
  for (let f = 1001; f <= 1006; f++) {
    const image = frame(136, 180, 3)
    for (let i = 0; i < image.data.length; i++) image.data[i] = ((i * 13 + f) % 97) / 97
    await writeExr(join(dir, `quay.${f}.exr`), image, { displayWindow: DISPLAY, origin: { x: -10, y: -8 } })
  }
  const one = await made(dir, { whole: true })
  expect(readBackOf(one)).toEqual([])
  const imageCounter = 1002
  await writeExr(one.path, await exrReader.read(one.path, DISPLAY), {
    displayWindow: DISPLAY,
    imageCounter,
    overwrite: true,
  })
  expect(await again(one)).toEqual(["read back, frame 1002: the data window is not the picture's"])
})

/** What reading back found; what a patch looks like is another matter. */
function readBackOf({ patch }: Made): string[] {
  return patch.warnings.filter((w) => w.startsWith('read back'))
}

/** Writes an EXR patch once more with something else in it. */
async function changed(
  { path, job }: Made,
  change: (picture: Frame) => void,
  other: Partial<ExrOptions> = {},
) {
  const { x, y, w, h } = job.region.window
  const rect = { x, y, w, h }
  const colours = await exrReader.read(path, rect)
  const alpha = await exrReader.readAlpha!(path, rect)
  const rgba = frame(h, w, 4)
  for (let i = 0; i < w * h; i++) {
    for (let c = 0; c < 3; c++) rgba.data[4 * i + c] = colours.data[3 * i + c]
    rgba.data[4 * i + 3] = alpha!.data[i]
  }
  change(rgba)
  const { imageCounter } = await exrReader.probe(path)
  const header = {
    displayWindow: DISPLAY,
    origin: { x, y },
    imageCounter,
    nonFinite: 'keep',
    overwrite: true,
  } as const
  await writeExr(path, rgba, { ...header, ...other })
}

describe('of a patch it finds, and names the frame of,', () => {
  let one: Made
  beforeAll(async () => {
    one = await made(plate.folder)
  })
  const middle = () => {
    const { x, y, w } = one.job.region.window
    return 4 * ((BOX[1] + 5 - y) * w + BOX[0] + 5 - x)
  }
  const cases: [string, string, (made: Made) => Promise<void>][] = [
    [
      'a sample that is no number',
      FAULTS.nan,
      (m) => changed(m, ({ data }) => data.fill(Number.NaN, middle(), middle() + 1)),
    ],
    [
      'an alpha above 1',
      FAULTS.alpha,
      (m) => changed(m, ({ data }) => data.fill(1.5, middle() + 3, middle() + 4)),
    ],
    ['colour where alpha is 0', FAULTS.outside, (m) => changed(m, ({ data }) => data.fill(0.1, 0, 1))],
    ['alpha beyond the feather', FAULTS.outside, (m) => changed(m, ({ data }) => data.fill(0.5, 3, 4))],
    [
      'a data window that has moved',
      "the data window is not the picture's",
      (m) => changed(m, () => {}, { origin: { x: 1, y: 2 } }),
    ],
    [
      'another display window',
      "the display window is not the plate's",
      (m) => changed(m, () => {}, { displayWindow: { ...DISPLAY, x: -8 } }),
    ],
    [
      'another size',
      'the file is 80 x 120, the plate 160 x 120',
      (m) => changed(m, () => {}, { displayWindow: { ...DISPLAY, w: 80 } }),
    ],
    [
      'another frame’s number',
      'the header counts another frame',
      (m) => changed(m, () => {}, { imageCounter: 7 }),
    ],
    [
      'a channel that is missing',
      'the channels are B, G, R, not A, B, G, R',
      async ({ path, job: { region } }) => {
        const { x, y, w, h } = region.window
        await writeExr(path, frame(h, w, 3), {
          displayWindow: DISPLAY,
          origin: { x, y },
          imageCounter: 1002,
          overwrite: true,
        })
      },
    ],
  ]
  test.each(cases)('%s', async (_, fault, plant) => {
    const right = readFileSync(one.path)
    await plant(one)
    expect(await again(one)).toEqual([`read back, frame 1002: ${fault}`])
    writeFileSync(one.path, right)
    expect(await again(one)).toEqual([])
  })

  test('something laid over a frame whose mask is black', async () => {
    const black = await made(plate.folder)
    const path = join(black.out, black.patch.frames[2].file)
    await changed({ ...black, path }, ({ data }) => data.fill(1, middle() + 3, middle() + 4))
    expect(await again(black)).toEqual([`read back, frame 1004: ${FAULTS.outside}`])
  })

  test('a file that ends too early, which is refused with its name', async () => {
    const cut = await made(plate.folder)
    truncateSync(cut.path, 900)
    await expect(again(cut)).rejects.toMatchObject({
      code: 'OUTPUT_UNREADABLE',
      exitCode: 1,
      message: expect.stringContaining("quay_patch.1002.exr can't be read back"),
    })
  })
})

describe('of whole frames it finds', () => {
  test('one bit of one sample far from the mask', async () => {
    const whole = await made(plate.folder, { whole: true })
    const { data, info } = await sharp(whole.path)
      .toColourspace('rgb16')
      .raw({ depth: 'ushort' })
      .toBuffer({ resolveWithObject: true })
    const samples = new Uint16Array(new Uint8Array(data).buffer)
    samples[3 * (100 * 160 + 150)] ^= 1
    const raw = { width: info.width, height: info.height, channels: 3 as const }
    await sharp(samples, { raw }).toColourspace('rgb16').png().toFile(whole.path)
    expect(await again(whole)).toEqual([`read back, frame 1002: ${FAULTS.plate}`])
  })

  test('an alpha that is not the plate’s', async () => {
    const whole = await made(halves, { whole: true })
    const rect = DISPLAY
    const [colours, alpha, info] = await Promise.all([
      exrReader.read(whole.path, rect),
      exrReader.readAlpha!(whole.path, rect),
      exrReader.probe(whole.path),
    ])
    const rgba = frame(120, 160, 4)
    for (let i = 0; i < 160 * 120; i++) {
      for (let c = 0; c < 3; c++) rgba.data[4 * i + c] = colours.data[3 * i + c]
      rgba.data[4 * i + 3] = alpha!.data[i]
    }
    rgba.data[4 * 500 + 3] += 0.125
    const { imageCounter } = info
    await writeExr(whole.path, rgba, {
      displayWindow: DISPLAY,
      imageCounter,
      nonFinite: 'keep',
      overwrite: true,
    })
    expect(await again(whole)).toEqual([`read back, frame 1002: ${FAULTS.plate}`])
  })
})

test('a ratio is 1 beyond the feathered mask, to the bit, and a finite number within', () => {
  const open = Uint8Array.of(0, 1)
  const of = (...values: number[]) => ratioFaults(Float32Array.from(values), open)
  expect(of(1, 1, 1, 0.5, 0.4, 0.3)).toEqual([])
  expect(of(1, 1, 1 + 2 ** -11, 0.5, 0.4, 0.3)).toEqual([FAULTS.ratio])
  expect(of(1, 1, 1, 0.5, Infinity, 0.3)).toEqual([FAULTS.nan])
})

test('a sample that halves can not hold is right as the half it was rounded to, where the file has halves', () => {
  const plate = Float32Array.of(0.1, 0.25, 1 / 3)
  const rounded = Float32Array.of(0.0999755859375, 0.25, 0.333251953125)
  const open = Uint8Array.of(0)
  expect(wholeFaults(rounded, plate, open, true)).toEqual([])
  expect(wholeFaults(rounded, plate, open, false)).toEqual([FAULTS.plate])
  expect(wholeFaults(Float32Array.of(0.1001, 0.25, 0.333251953125), plate, open, true)).toEqual([
    FAULTS.plate,
  ])
})
