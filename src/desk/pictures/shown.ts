// How pictures are shown: exposure, gamma and look, and the file that a page gets.
import { stat } from 'node:fs/promises'
import sharp from 'sharp'
import type { Look } from '../../colour/look/look.js'
import { readLook } from '../../colour/look/read-look.js'
import { type ViewingTransform, viewingOf } from '../../colour/viewing.js'
import type { Plate } from '../../footage/plate.js'
import type { Frame } from '../../raster/frame.js'

export interface Shown {
  /** At most so wide, pixels; null: as wide as it is. */
  readonly width: number | null
  readonly exposureStops: number
  /** What is shown is raised to one over it. */
  readonly gamma: number
  /** File of a look; null: none. */
  readonly look: string | null
}

/** The last look, as a page asks for the same one all the time. */
let lastLook: { key: string; look: Promise<Look> } | undefined

async function lookOf(path: string): Promise<Look> {
  const key = `${path} ${(await stat(path).catch(() => null))?.mtimeMs}`
  if (lastLook?.key !== key) lastLook = { key, look: readLook(path) }
  return lastLook.look
}

/** @throws LOOK_NOT_FOUND, LOOK_BAD */
export async function viewingFor({ encoding, info }: Plate, look: string | null): Promise<ViewingTransform> {
  const through = look === null ? undefined : await lookOf(look)
  return viewingOf({ encoding, chromaticities: info.chromaticities, look: through })
}

const JPEG_QUALITY = 90

/** @param picture linear light */
export async function encodePicture(
  viewing: ViewingTransform,
  picture: Frame,
  { width: most, exposureStops, gamma }: Shown,
  format: 'jpg' | 'png' = 'jpg',
): Promise<Uint8Array> {
  const codes = viewing.toDisplay(picture, exposureStops, gamma)
  const [height, width] = picture.shape
  const image = sharp(codes, { raw: { width, height, channels: 3 } })
  // Both sides are given: of the width alone the height's fraction of a pixel would be cut off at the lower edge.
  const smaller =
    most !== null && most < width
      ? image.resize({ width: most, height: Math.max(1, Math.round((height * most) / width)), fit: 'fill' })
      : image
  if (format === 'png') return smaller.png().toBuffer()
  return smaller.jpeg({ quality: JPEG_QUALITY, chromaSubsampling: '4:4:4' }).toBuffer()
}
