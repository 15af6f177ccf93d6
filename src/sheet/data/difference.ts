// The difference picture: where the lent pixels and the target part, many times stronger than the eye would see it.
import { codecs } from '../../kernels/codecs.js'
import { differenceCodes } from '../../kernels/display.js'
import { type Frame, frame } from '../../raster/frame.js'
import { cutSamples } from '../../raster/plane.js'
import type { Rect } from '../../raster/rect.js'
import { laid } from '../../repair/over.js'
import type { RowPictures } from './seen.js'

/** How much stronger a difference is drawn than it is. */
export const DIFFERENCE_GAIN = 8
/** The code value of no difference. */
const DIFFERENCE_ZERO = 128

/** What is lent to a frame. Without the repaired picture its patch is laid over the target. */
export type Lending = Pick<RowPictures, 'rect' | 'target' | 'alpha' | 'mask' | 'patch'> &
  Partial<Pick<RowPictures, 'repaired'>>

/**
 * What would lie over the target if the donor were lent everywhere: the repaired picture where the patch is to be seen,
 * the patch itself, light matched, round it. Linear light.
 *
 * @param within a part of the pictures' rectangle
 */
export function lentEverywhere(
  { rect, patch, repaired, target, alpha }: Lending,
  within: Rect = rect,
  into = frame(within.h, within.w, 3),
): Frame {
  cutSamples(patch.data, rect, within, 3, into.data)
  const left = within.x - rect.x
  const top = within.y - rect.y
  // Where the patch covers the target altogether both are the same.
  const pixels = partlyCovered(alpha)
  for (let k = 0; k < pixels.length; k++) {
    const p = pixels[k]
    const y = Math.floor(p / rect.w)
    const x = p - y * rect.w - left
    if (x < 0 || x >= within.w || y < top || y >= top + within.h) continue
    const to = 3 * ((y - top) * within.w + x)
    if (repaired) copyPixel(repaired.data, 3 * p, into.data, to)
    else layPixel(alpha[p], patch.data, target.data, 3 * p, into.data, to)
  }
  return into
}

function copyPixel(data: Readonly<Float32Array>, from: number, out: Float32Array, to: number): void {
  for (let c = 0; c < 3; c++) out[to + c] = data[from + c]
}

function layPixel(
  alpha: number,
  patch: Readonly<Float32Array>,
  target: Readonly<Float32Array>,
  from: number,
  out: Float32Array,
  to: number,
): void {
  for (let c = 0; c < 3; c++) out[to + c] = laid(alpha, patch[from + c], target[from + c])
}

/** Of an alpha the same always. */
const partly = new WeakMap<Readonly<Float32Array>, Uint32Array>()

/** Pixels whose alpha is between 0 and 1. */
function partlyCovered(alpha: Readonly<Float32Array>): Uint32Array {
  const known = partly.get(alpha)
  if (known !== undefined) return known
  const found = new Uint32Array(alpha.length)
  let n = 0
  for (let p = 0; p < alpha.length; p++) if (alpha[p] > 0 && alpha[p] !== 1) found[n++] = p
  const pixels = found.slice(0, n)
  partly.set(alpha, pixels)
  return pixels
}

/** How many code values a stop of change is drawn as, either side of mid grey. */
const RATIO_CODES_PER_STOP = 64

/** A ratio in stops round mid grey, per channel, as code values: darker than mid grey is what gets darker. */
export function ratioPicture(ratio: Frame): Uint8ClampedArray {
  const out = new Uint8ClampedArray(ratio.data.length)
  for (let i = 0; i < out.length; i++) {
    out[i] = DIFFERENCE_ZERO + RATIO_CODES_PER_STOP * Math.log2(Math.max(ratio.data[i], 1e-6))
  }
  return out
}

/**
 * `lent` minus `target` in display code values, times DIFFERENCE_GAIN, round mid grey: what is lighter than the target is
 * lighter than mid grey. Both are 8-bit sRGB samples in the same layout.
 */
export function differencePicture(lent: Uint8Array, target: Uint8Array): Uint8Array {
  const out = new Uint8Array(lent.length)
  differenceCodes(codecs(), lent, target, { zero: DIFFERENCE_ZERO, gain: DIFFERENCE_GAIN }, out)
  return out
}
