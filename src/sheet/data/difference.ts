// The difference picture: where the lent pixels and the target part, many times stronger than the eye would see it.
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import type { RowPictures } from './pictures.js'

/** How much stronger a difference is drawn than it is. */
export const DIFFERENCE_GAIN = 8
/** The code value of no difference. */
export const DIFFERENCE_ZERO = 128

/**
 * What would lie over the target if the donor were lent everywhere: the repaired picture where the patch is to be seen,
 * the patch itself, light matched, round it. Linear light.
 *
 * @param within a part of the pictures' rectangle
 */
export function lentEverywhere(
  { rect, patch, repaired, alpha }: RowPictures,
  within: Rect = rect,
  into = frame(within.h, within.w, 3),
): Frame {
  const { data } = into
  const [shown, lent] = [repaired.data, patch.data]
  for (let y = 0, to = 0; y < within.h; y++) {
    let p = (within.y - rect.y + y) * rect.w + within.x - rect.x
    data.set(lent.subarray(3 * p, 3 * (p + within.w)), to)
    // Where the patch covers the target altogether both are the same.
    for (const end = p + within.w; p < end; p++, to += 3) {
      if (!(alpha[p] > 0) || alpha[p] === 1) continue
      data[to] = shown[3 * p]
      data[to + 1] = shown[3 * p + 1]
      data[to + 2] = shown[3 * p + 2]
    }
  }
  return into
}

/** How many code values a stop of change is drawn as, either side of mid grey. */
export const RATIO_CODES_PER_STOP = 64

/** A ratio in stops round mid grey, per channel, as code values: darker than mid grey is what gets darker. */
export function ratioPicture(ratio: Frame): Uint8ClampedArray {
  const out = new Uint8ClampedArray(ratio.data.length)
  for (let i = 0; i < out.length; i++) {
    out[i] = DIFFERENCE_ZERO + RATIO_CODES_PER_STOP * Math.log2(Math.max(ratio.data[i], 1e-6))
  }
  return out
}

/**
 * `lent` minus `target` in display code values, times `gain`, round mid grey: what is lighter than the target is
 * lighter than mid grey. Both are 8-bit sRGB samples in the same layout.
 */
export function differencePicture(
  lent: Uint8Array,
  target: Uint8Array,
  gain = DIFFERENCE_GAIN,
): Uint8ClampedArray {
  const out = new Uint8ClampedArray(lent.length)
  for (let i = 0; i < lent.length; i++) out[i] = DIFFERENCE_ZERO + gain * (lent[i] - target[i])
  return out
}
