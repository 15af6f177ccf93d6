// Pictures of a region too large to carry pixel by pixel, brought down by a whole factor in linear light.
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import type { Result } from '../../search/result.js'
import type { PictureSource } from './pictures.js'
import type { RowPictures } from './seen.js'

/** Pixels up to which pictures are carried as they are. */
const MAX_PIXELS = 1_200_000

/** How many pixels of a side become one; 1 leaves the pictures as they are. */
export function shrinkFactor(width: number, height: number): number {
  return Math.max(1, Math.ceil(Math.sqrt((width * height) / MAX_PIXELS)))
}

/** Of the pictures of a result: they show the region and its surround on every side. */
export function factorOf({ region: { box, surround } }: Result): number {
  const [, , width, height] = box
  return shrinkFactor(width + 2 * surround, height + 2 * surround)
}

/** The same pictures at one `factor`th of their size; the last pixels are left out where it does not divide the size. */
export function shrunk(pictures: PictureSource, factor: number): PictureSource {
  if (factor === 1) return pictures
  return {
    pictures: async (candidate, match) => shrinkAll(await pictures.pictures(candidate, match), factor),
    async donor(candidate, match) {
      const { rect, donor } = await pictures.donor(candidate, match)
      return { rect: shrinkRect(rect, factor), donor: shrinkPicture(donor, factor) }
    },
  }
}

function shrinkAll(seen: RowPictures, factor: number): RowPictures {
  const { w } = seen.rect
  const rect = shrinkRect(seen.rect, factor)
  const plane = (mask: Float32Array) => means(mask, w, 1, rect, factor)
  const picture = (of: Frame) => shrinkPicture(of, factor)
  return {
    rect,
    target: picture(seen.target),
    donor: picture(seen.donor),
    patch: picture(seen.patch),
    repaired: picture(seen.repaired),
    ...(seen.ratio ? { ratio: picture(seen.ratio) } : {}),
    alpha: plane(seen.alpha),
    mask: plane(seen.mask),
  }
}

function shrinkRect({ x, y, w, h }: Rect, factor: number): Rect {
  const part = (v: number) => Math.floor(v / factor)
  return { x: part(x), y: part(y), w: part(w), h: part(h) }
}

/** The means over squares of `factor` pixels a side; what does not fill one is left out. */
export function shrinkPicture({ data, shape: [height, width] }: Frame, factor: number): Frame {
  const size = shrinkRect({ x: 0, y: 0, w: width, h: height }, factor)
  return frame(size.h, size.w, 3, means(data, width, 3, size, factor))
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
