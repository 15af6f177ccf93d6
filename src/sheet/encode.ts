// Previews as files and data URIs.
import sharp from 'sharp'
import type { Still } from './gather.js'

/** WebP quality of the stills: a step in light as faint as the grain survives it, see tests/sheet/encode.test.ts. */
export const STILL_QUALITY = 88
/** The difference is amplified already, so its finest grain may go. */
export const DIFFERENCE_QUALITY = 70
/** WebP quality of the target's frames, which all candidates share. */
export const TARGET_QUALITY = 90

/** 8-bit sRGB samples (row-major RGB) as a WebP file. */
export function webpBytes(
  samples: Uint8Array,
  size: { readonly w: number; readonly h: number },
  quality: number,
): Promise<Buffer> {
  const raw = { width: size.w, height: size.h, channels: 3 as const }
  return sharp(samples, { raw }).webp({ quality, smartSubsample: true, effort: 4 }).toBuffer()
}

/** A still as a WebP data URI. */
export async function stillUri(still: Still, quality = STILL_QUALITY): Promise<string> {
  const file = await webpBytes(still.samples, still, quality)
  return `data:image/webp;base64,${file.toString('base64')}`
}

/** 8-bit grey samples, row-major, as a lossless PNG data URI. */
export async function greyUri(
  samples: Uint8Array,
  size: { readonly w: number; readonly h: number },
): Promise<string> {
  const raw = { width: size.w, height: size.h, channels: 1 as const }
  const file = await sharp(samples, { raw }).toColourspace('b-w').png({ compressionLevel: 9 }).toBuffer()
  return `data:image/png;base64,${file.toString('base64')}`
}
