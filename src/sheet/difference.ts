// The difference picture: where the lent pixels and the target part, many times stronger than the eye would see it.
import { type Frame, frame } from '../raster/frame.js'
import type { RowPictures } from './pictures.js'

/** How much stronger a difference is drawn than it is. */
export const DIFFERENCE_GAIN = 8
/** The code value of no difference. */
export const DIFFERENCE_ZERO = 128

/**
 * What would lie over the target if the donor were lent everywhere: the repaired picture where the mask is above 0,
 * the donor with its light matched outside. Linear light, same layout.
 *
 * @param gain linear-light factor per channel that brings the donor to the target
 */
export function lentEverywhere(pictures: RowPictures, gain: readonly [number, number, number]): Frame {
  const { donor, repaired, mask, rect } = pictures
  const lent = frame(rect.h, rect.w, 3)
  for (let p = 0, i = 0; p < mask.length; p++) {
    for (let c = 0; c < 3; c++, i++) lent.data[i] = mask[p] > 0 ? repaired.data[i] : donor.data[i] * gain[c]
  }
  return lent
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
