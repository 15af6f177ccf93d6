// One mask's file as weights over its pixels, whatever format it has, and brought to another size.
import { readFile } from 'node:fs/promises'
import { extname } from 'node:path'
import type { Sharp } from 'sharp'
import { OffcutError, plateError } from '../errors.js'
import { extensionOf, readerFor } from '../footage/readers.js'

export interface Size {
  readonly width: number
  readonly height: number
}

/** Weights over a whole picture. */
export interface MaskPicture extends Size {
  /** 0 to 1, row-major. */
  readonly data: Float32Array
}

/**
 * A mask's file as weights: alpha where it has a used alpha, else luminance; code values, 0 to 1, not linearised.
 *
 * @param plate an SVG without a size of its own is drawn at the plate's
 * @throws MASK_UNREADABLE
 */
export async function readMask(path: string, plate: Size): Promise<MaskPicture> {
  try {
    if (['exr', 'dpx'].includes(extensionOf(path))) return await readByFormat(path)
    // An SVG is handed over as bytes: without a place on disk it can't draw other files in.
    const svg = extname(path).toLowerCase() === '.svg'
    const input = svg ? await readFile(path) : path
    const size = svg ? { width: plate.width, height: plate.height, fit: 'fill' as const } : null
    const sharp = await codec()
    // Codes are weights, whatever colour a profile says that they stand for.
    let image = sharp(input, { limitInputPixels: 2 ** 28, ignoreIcc: true })
    if (size && !(await hasOwnSize(image, plate))) image = image.resize(size)
    // 8 bits are read as 8 bits: sharp's way to 16 multiplies by 256 (102 of 255 would come out as 0.398, not 0.4).
    const { depth } = await image.metadata()
    // Floats are taken as they stand; sharp would bend them to sRGB.
    if (depth === 'float') return await readByFormat(path)
    const deep = depth !== 'uchar'
    if (deep) image = image.toColourspace('rgb16')
    const { data, info } = await image
      .raw({ depth: deep ? 'ushort' : 'uchar' })
      .toBuffer({ resolveWithObject: true })
    const samples = deep ? new Uint16Array(data.buffer, data.byteOffset, data.byteLength / 2) : data
    return {
      width: info.width,
      height: info.height,
      data: weights(samples, info.channels, deep ? 65535 : 255),
    }
  } catch (cause) {
    if (cause instanceof OffcutError && cause.code === 'LAYER_AMBIGUOUS') {
      const problem = 'has no main picture and several layers that could be the mask'
      const remedy = 'write the matte as R, G, B or A without a layer name, or to a file of its own'
      throw plateError('MASK_UNREADABLE', path, problem, remedy, { cause, exitCode: 2 })
    }
    throw plateError(
      'MASK_UNREADABLE',
      path,
      'can not be read as a mask',
      'give a PNG, TIFF, JPEG, EXR or SVG',
      { cause },
    )
  }
}

/** Loaded when there is a mask to decode: a box needs none, nor does a thread, which is handed its masks. */
async function codec() {
  return (await import('sharp')).default
}

async function hasOwnSize(image: Sharp, plate: Size): Promise<boolean> {
  const { width, height } = await image.metadata()
  return width === plate.width && height === plate.height
}

async function readByFormat(path: string): Promise<MaskPicture> {
  const reader = (await readerFor(path))!
  const { width, height } = await reader.probe(path, {})
  const rect = { x: 0, y: 0, w: width, h: height }
  const [{ data }, alpha] = await Promise.all([
    reader.read(path, rect),
    // NaN outside a data window, where there is no alpha that could be used, and no mask.
    reader.readAlpha?.(path, rect, { outside: Number.NaN }),
  ])
  const used = alpha?.data.some((v) => v < 1 || v > 1)
  return { width, height, data: used ? weights(alpha!.data, 1, 1) : weights(data, 3, 1) }
}

function weights(samples: ArrayLike<number>, channels: number, full: number): Float32Array {
  const pixels = samples.length / channels
  const data = new Float32Array(pixels)
  const alpha = channels === 2 || channels === 4 ? channels - 1 : -1
  let used = false
  for (let i = 0; alpha >= 0 && i < pixels && !used; i++) used = samples[i * channels + alpha] < full
  for (let i = 0; i < pixels; i++) {
    const at = i * channels
    const value = used
      ? samples[at + alpha]
      : channels < 3
        ? samples[at]
        : 0.2126 * samples[at] + 0.7152 * samples[at + 1] + 0.0722 * samples[at + 2]
    // Not finite or below 0 (float files): nothing to replace there.
    data[i] = value > 0 ? Math.min(1, value / full) : 0
  }
  return data
}

/** A mask brought to the plate's size. */
export async function scaled(picture: MaskPicture, plate: Size): Promise<MaskPicture> {
  const codes = new Uint16Array(picture.data.length)
  for (let i = 0; i < codes.length; i++) codes[i] = Math.round(picture.data[i] * 65535)
  const sharp = await codec()
  const { data, info } = await sharp(codes, {
    raw: { width: picture.width, height: picture.height, channels: 1 },
  })
    .resize(plate.width, plate.height, { fit: 'fill', kernel: 'cubic' })
    .toColourspace('grey16')
    .raw({ depth: 'ushort' })
    .toBuffer({ resolveWithObject: true })
  const samples = new Uint16Array(data.buffer, data.byteOffset, data.byteLength / 2)
  return {
    width: info.width,
    height: info.height,
    data: weights(samples, info.channels, 65535),
  }
}
