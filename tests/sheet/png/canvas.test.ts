// A sheet's pixels. Outside truth: libvips, which lays the same pictures and the same ink over each other.
import sharp from 'sharp'
import { expect, test } from 'vitest'
import { greyCanvas, layInk, layPicture } from '../../../src/sheet/png/canvas.js'
import { randomFrom } from '../../random.js'

const random = randomFrom('canvas')
const codes = (length: number) => Uint8Array.from({ length }, () => Math.floor(256 * random()))

test('pictures lie where they are put, and ink lies over them as libvips has it, of every colour and strength', async () => {
  const [w, h] = [256, 200]
  const pictures = [
    { w: 100, h: 60, samples: codes(3 * 100 * 60), left: 7, top: 0 },
    { w: 31, h: 160, samples: codes(3 * 31 * 160), left: 225, top: 40 },
  ]
  const part = { x: 5, y: 9, w: w - 20, h: h - 11 }
  const ink = codes(4 * part.w * part.h)
  // Ink is solid or absent on most of a sheet.
  for (let i = 3; i < ink.length; i += 4) ink[i] = random() < 0.2 ? 0 : random() < 0.2 ? 255 : ink[i]!
  const canvas = greyCanvas(w, h, 58)
  for (const { left, top, ...picture } of pictures) layPicture(canvas, picture, left, top)
  layInk(canvas, part, ink)
  const overlays = pictures.map(({ samples, left, top, w: width, h: height }) => {
    return { input: Buffer.from(samples), raw: { width, height, channels: 3 as const }, left, top }
  })
  const truth = await sharp({ create: { width: w, height: h, channels: 3, background: '#3a3a3a' } })
    .composite([
      ...overlays,
      {
        input: Buffer.from(ink),
        raw: { width: part.w, height: part.h, channels: 4 },
        left: part.x,
        top: part.y,
      },
    ])
    .removeAlpha()
    .raw()
    .toBuffer()
  expect(Buffer.compare(canvas.samples, truth)).toBe(0)
})

test('ink of no strength changes nothing, and solid ink is its own colour', () => {
  const canvas = greyCanvas(2, 1, 58)
  layInk(canvas, { x: 0, y: 0, w: 2, h: 1 }, Uint8Array.of(200, 100, 0, 0, 200, 100, 0, 255))
  expect([...canvas.samples]).toEqual([58, 58, 58, 200, 100, 0])
})
