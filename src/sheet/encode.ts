// Previews as data URIs.
import sharp from 'sharp'

/**
 * WebP quality of the still previews. Measured in tests/sheet/encode.test.ts: a step in light as faint as the grain
 * survives it.
 */
export const PREVIEW_QUALITY = 90

/** 8-bit sRGB samples (row-major RGB) as a WebP data URI. */
export async function webpUri(
  samples: Uint8Array | Uint8ClampedArray,
  size: { readonly w: number; readonly h: number },
  quality = PREVIEW_QUALITY,
): Promise<string> {
  const raw = { width: size.w, height: size.h, channels: 3 as const }
  const file = await sharp(samples, { raw }).webp({ quality, smartSubsample: true, effort: 4 }).toBuffer()
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
