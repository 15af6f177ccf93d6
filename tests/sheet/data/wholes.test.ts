// Whole frames of the sheet. Outside truth: half of the light is code 188 of 255 in sRGB (IEC 61966-2-1).
import sharp from 'sharp'
import { expect, test } from 'vitest'
import { viewingOf } from '../../../src/colour/viewing.js'
import { type Frame, frame } from '../../../src/raster/frame.js'
import { floatsToHalves } from '../../../src/raster/half.js'
import type { Result } from '../../../src/search/result.js'
import { drawWholes, type ReadWhole } from '../../../src/sheet/data/wholes.js'

const viewing = viewingOf({ encoding: 'linear' })

/** Squares, black and white in turn as on a chess board; left of `from` there is no picture. */
function chessBoard(width: number, height: number, from = 0): Frame {
  const board = frame(height, width, 3)
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i += 3) board.data.fill(x < from ? Number.NaN : (x + y) % 2, i, i + 3)
  return board
}

/** The picture of a whole frame that is read as it is given here. */
async function drawnOf(width: number, height: number, read: ReadWhole) {
  const match = { target: 1001, seam: 1 }
  const result = { target: { width, height }, candidates: [{ kind: 'hold', frames: [match] }] }
  const { frames } = await drawWholes(
    result as unknown as Result,
    read,
    (picture) => viewing.toDisplay(picture),
    1,
  )
  expect(frames.map((one) => one.frame)).toEqual([1001])
  return sharp(Buffer.from(frames[0].file, 'base64')).raw().toBuffer({ resolveWithObject: true })
}

/** The code of the middle of the whole picture of a chess board, and its size. */
async function middleOf(width: number, height: number): Promise<{ code: number; w: number; h: number }> {
  const { data, info } = await drawnOf(width, height, async () => chessBoard(width, height))
  const at = info.channels * ((info.height >> 1) * info.width + (info.width >> 1))
  return { code: data[at], w: info.width, h: info.height }
}

test('a large frame is brought down in linear light: fine black and white come out as half of the light', async () => {
  const { code, w, h } = await middleOf(2560, 1440)
  expect([w, h]).toEqual([1280, 720])
  expect(Math.abs(code - 188)).toBeLessThanOrEqual(2)
})

test('a frame whose sides no whole number divides is shown whole all the same', async () => {
  const { w, h } = await middleOf(2563, 1439)
  expect(w / h).toBeCloseTo(2563 / 1439, 2)
})

test.each([
  [2560, 1440],
  [640, 360],
  [2563, 1439],
])('a frame of halves, %s x %s, is drawn as the same light in floats is', async (width, height) => {
  const board = chessBoard(width, height, 101)
  const halves = new Uint16Array(board.data.length)
  floatsToHalves(board.data, halves)
  const fromHalves = await drawnOf(width, height, async (_, { rows, take }) => {
    for (let y = 0; y < height; y += rows) take(halves.slice(3 * width * y, 3 * width * (y + rows)), y)
    return null
  })
  const fromFloats = await drawnOf(width, height, async () => board)
  expect(fromHalves.info).toEqual(fromFloats.info)
  expect(fromHalves.data.equals(fromFloats.data)).toBe(true)
})
