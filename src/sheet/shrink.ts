// Pictures of a region too large to carry pixel by pixel, brought down by a whole factor in linear light.
import { type Frame, frame } from '../raster/frame.js'
import type { PictureSource, RowPictures } from './pictures.js'

/** Pixels up to which pictures are carried as they are. */
const MOST_PIXELS = 1_200_000

/** How many pixels of a side become one; 1 leaves the pictures as they are. */
export function shrinkFactor(width: number, height: number): number {
  return Math.max(1, Math.ceil(Math.sqrt((width * height) / MOST_PIXELS)))
}

/** The same pictures at one `factor`th of their size; the last pixels are left out where it does not divide the size. */
export function shrunk(pictures: PictureSource, factor: number): PictureSource {
  if (factor === 1) return pictures
  return async (candidate, match) => shrinkAll(await pictures(candidate, match), factor)
}

function shrinkAll(seen: RowPictures, factor: number): RowPictures {
  const { x, y, w, h } = seen.rect
  const size = { w: Math.floor(w / factor), h: Math.floor(h / factor) }
  const plane = (mask: Float32Array) => means(mask, w, 1, size, factor)
  const picture = (of: Frame) => frame(size.h, size.w, 3, means(of.data, w, 3, size, factor))
  return {
    rect: { x: Math.floor(x / factor), y: Math.floor(y / factor), ...size },
    target: picture(seen.target),
    donor: picture(seen.donor),
    patch: picture(seen.patch),
    repaired: picture(seen.repaired),
    ...(seen.ratio ? { ratio: picture(seen.ratio) } : {}),
    alpha: plane(seen.alpha),
    mask: plane(seen.mask),
  }
}

/** @param width of the source in pixels; `size` of the result */
function means(
  source: Float32Array,
  width: number,
  channels: number,
  size: { w: number; h: number },
  factor: number,
): Float32Array {
  const out = new Float32Array(size.w * size.h * channels)
  const share = 1 / (factor * factor)
  for (let y = 0; y < size.h * factor; y++) {
    const to = Math.floor(y / factor) * size.w
    for (let x = 0; x < size.w * factor; x++) {
      const from = (y * width + x) * channels
      const at = (to + Math.floor(x / factor)) * channels
      for (let c = 0; c < channels; c++) out[at + c] += source[from + c] * share
    }
  }
  return out
}
