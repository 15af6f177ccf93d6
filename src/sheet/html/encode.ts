// Pictures as files and data URIs.
import sharp from 'sharp'
import type { Still } from '../data/gather.js'

export interface Coding {
  readonly format: 'webp' | 'jpeg'
  readonly quality: number
}

/**
 * How the page's frames may be coded, best first. Measured by tests/sheet/encode.test.ts on a step as faint as the
 * grain: WebP keeps the grain as well, but below 92 its deblocking softens faint edges on flat walls; JPEG keeps the
 * edge to the end and lets the grain go.
 */
export const CODINGS = [
  { format: 'webp', quality: 98 },
  { format: 'webp', quality: 96 },
  { format: 'webp', quality: 94 },
  { format: 'webp', quality: 92 },
  { format: 'jpeg', quality: 90 },
  { format: 'jpeg', quality: 86 },
  { format: 'jpeg', quality: 82 },
] as const satisfies readonly Coding[]

export function codingName({ format, quality }: Coding): string {
  return `${format === 'webp' ? 'WebP' : 'JPEG'} at quality ${quality}`
}

export const STILL_CODING: Coding = { format: 'webp', quality: 94 }
/** The difference is amplified already, so its finest grain may go. */
export const DIFFERENCE_CODING: Coding = { format: 'webp', quality: 75 }

interface Size {
  readonly w: number
  readonly h: number
}

/** 8-bit sRGB samples (row-major RGB) as a file. */
export function pictureFile(samples: Uint8Array, size: Size, { format, quality }: Coding): Promise<Buffer> {
  const picture = sharp(samples, { raw: { width: size.w, height: size.h, channels: 3 } })
  if (format === 'jpeg') return picture.jpeg({ quality }).toBuffer()
  return picture.webp({ quality, smartSubsample: true, effort: 4 }).toBuffer()
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
