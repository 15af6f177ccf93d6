// Pictures as files and data URIs.
import sharp from 'sharp'
import type { Still } from '../data/gather.js'

export interface Coding {
  readonly format: 'webp' | 'jpeg'
  readonly quality: number
}

/**
 * How the page's frames may be coded, best first. Measured by tests/sheet/html/encode.test.ts on a step as faint as the
 * grain: all of them keep its edge. JPEG at 97 keeps all of the grain, at 95 nine tenths of it; below, it lets the grain go first, where
 * WebP keeps it in as much room. A picture of 292 x 252 takes WebP five milliseconds and JPEG one.
 */
export const CODINGS = [
  { format: 'jpeg', quality: 97 },
  { format: 'jpeg', quality: 96 },
  { format: 'jpeg', quality: 95 },
  { format: 'webp', quality: 94 },
  { format: 'jpeg', quality: 89 },
  { format: 'jpeg', quality: 86 },
  { format: 'jpeg', quality: 82 },
] as const satisfies readonly Coding[]

export function codingName({ format, quality }: Coding): string {
  return `${format === 'webp' ? 'WebP' : 'JPEG'} at quality ${quality}`
}

/** On four plates nearer to what was coded than WebP at 96, in luma and in all, a third of its time and a fifth more bytes. */
export const STILL_CODING: Coding = CODINGS[0]
/** A table of codes made for each picture takes as long again, for 3 to 5 % fewer bytes of the same picture: where room is short. */
const MIN_STANDARD_QUALITY = 95
/** The difference is amplified already, so its finest grain may go. WebP at 75 took six times as long for as many bytes. */
export const DIFFERENCE_CODING: Coding = { format: 'jpeg', quality: 80 }

interface Size {
  readonly w: number
  readonly h: number
}

/** 8-bit sRGB samples (row-major RGB) as a file. */
export function pictureFile(samples: Uint8Array, size: Size, { format, quality }: Coding): Promise<Buffer> {
  const picture = sharp(samples, { raw: { width: size.w, height: size.h, channels: 3 } })
  if (format === 'jpeg')
    return picture.jpeg({ quality, optimiseCoding: quality < MIN_STANDARD_QUALITY }).toBuffer()
  // More effort, or colours sampled down with more care, takes three to seven times as long and shows no better at 94 and above.
  return picture.webp({ quality, effort: 0 }).toBuffer()
}

/** A still as a data URI. */
export async function stillUri(still: Still, coding = STILL_CODING): Promise<string> {
  const file = await pictureFile(still.samples, still, coding)
  return `data:image/${coding.format};base64,${file.toString('base64')}`
}

/** 8-bit grey samples, row-major, as a lossless PNG data URI. */
export async function greyUri(samples: Uint8Array, size: Size): Promise<string> {
  const raw = { width: size.w, height: size.h, channels: 1 as const }
  const file = await sharp(samples, { raw }).toColourspace('b-w').png({ compressionLevel: 9 }).toBuffer()
  return `data:image/png;base64,${file.toString('base64')}`
}
