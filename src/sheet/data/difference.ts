// The difference picture: where the lent pixels and the target part, many times stronger than the eye would see it.
import { type Frame, frame } from '../../raster/frame.js'
import type { RowPictures } from './pictures.js'

/** How much stronger a difference is drawn than it is. */
export const DIFFERENCE_GAIN = 8
/** The code value of no difference. */
export const DIFFERENCE_ZERO = 128

/**
 * What would lie over the target if the donor were lent everywhere: the repaired picture where the patch is to be seen,
 * the patch itself, light matched, round it. Linear light, same layout.
 */
export function lentEverywhere({ rect, patch, repaired, alpha }: RowPictures): Frame {
  const lent = frame(rect.h, rect.w, 3)
  for (let p = 0, i = 0; p < alpha.length; p++) {
    for (let c = 0; c < 3; c++, i++) lent.data[i] = alpha[p] > 0 ? repaired.data[i] : patch.data[i]
  }
  return lent
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
