// 16-bit PNG and TIFF by sharp, samples exactly as given: no colour management, no change of alpha.
import sharp, { type Sharp } from 'sharp'
import type { Frame } from '../../raster/frame.js'
import { refuseExisting, type WriteOptions, writeWhole } from './file.js'

const FULL_SCALE = 65535

/**
 * Writes a 16-bit PNG, whole or not at all.
 *
 * @param image encoded values (not linear light), [height, width, 3 or 4]; 0 to 1 is the full range. PNG readers expect
 *   straight alpha; what is given is written
 * @returns how many samples lay outside 0 to 1 and were clamped
 * @throws OUTPUT_EXISTS, DISK_FULL, OUTPUT_UNWRITABLE; RangeError where a sample is NaN
 */
export async function writePng16(
  path: string,
  image: Frame,
  options: WriteOptions = {},
): Promise<{ clamped: number }> {
  return writeStill(path, image, options, (picture) => picture.png())
}

/** Writes a 16-bit TIFF (Deflate with predictor); otherwise as writePng16. */
export async function writeTiff16(
  path: string,
  image: Frame,
  options: WriteOptions = {},
): Promise<{ clamped: number }> {
  return writeStill(path, image, options, (picture) =>
    picture.tiff({ compression: 'deflate', predictor: 'horizontal' }),
  )
}

async function writeStill(
  path: string,
  image: Frame,
  { overwrite = false }: WriteOptions,
  pack: (picture: Sharp) => Sharp,
): Promise<{ clamped: number }> {
  await refuseExisting(path, overwrite)
  const [height, width, channels] = image.shape
  if (!(height > 0 && width > 0) || (channels !== 3 && channels !== 4)) {
    throw new RangeError(`a still takes [height, width, 3 or 4], got [${image.shape.join(', ')}]`)
  }
  const { samples, clamped } = quantise(image.data)
  // rgb16 is the space the samples are in already; asking for it keeps sharp from converting them to 8-bit sRGB
  const picture = sharp(samples, { raw: { width, height, channels } }).toColourspace('rgb16')
  await writeWhole(path, await pack(picture).toBuffer(), { overwrite })
  return { clamped }
}

function quantise(data: Float32Array): { samples: Uint16Array; clamped: number } {
  const samples = new Uint16Array(data.length)
  let clamped = 0
  for (let i = 0; i < data.length; i++) {
    const value = data[i]!
    if (value >= 0 && value <= 1) samples[i] = Math.round(value * FULL_SCALE)
    else if (Number.isNaN(value)) throw new RangeError(`the picture has NaN at sample ${i}`)
    else {
      samples[i] = value > 1 ? FULL_SCALE : 0
      clamped++
    }
  }
  return { samples, clamped }
}
