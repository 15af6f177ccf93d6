// How close a repair comes to the truth: PSNR of display-encoded samples inside the region, peak 1.

import type { Picture } from '../resample.js'
import { toDisplay, toLinear } from './footage.js'

/** Squared error and how many samples it was summed over; adds up over frames. */
export interface Squares {
  sum: number
  count: number
}

/** 16-bit rounding of both pictures alone leaves about 99 dB: no difference is reported as better than this. */
export const BEST_DB = 99

/**
 * Squared error of linear-light samples against display-encoded truth.
 *
 * @param repaired linear RGB
 * @param truth    display-encoded RGB, 0 to 1
 * @param at       pixel offsets into `repaired`
 * @param truthAt  the same pixels' offsets into `truth`
 * @param gain     linear-light factor per channel laid on `repaired`
 */
export function squaredError(
  repaired: Picture,
  truth: Picture,
  at: Int32Array,
  truthAt: Int32Array,
  gain: readonly number[] = [1, 1, 1],
): Squares {
  let sum = 0
  for (let i = 0; i < at.length; i++) {
    for (let c = 0; c < 3; c++) {
      const d = toDisplay(repaired.data[3 * at[i] + c] * gain[c]) - truth.data[3 * truthAt[i] + c]
      sum += d * d
    }
  }
  return { sum, count: 3 * at.length }
}

/** The same of display-encoded BT.709 luminance, one sample per pixel: what a candidate's expected error speaks of. */
export function squaredLuminanceError(
  repaired: Picture,
  truth: Picture,
  at: Int32Array,
  truthAt: Int32Array,
): Squares {
  let sum = 0
  for (let i = 0; i < at.length; i++) {
    const r = 3 * at[i]
    const t = 3 * truthAt[i]
    const [red, green, blue] = [0, 1, 2].map((c) => toLinear(truth.data[t + c]))
    const shown = luminance(repaired.data[r], repaired.data[r + 1], repaired.data[r + 2])
    const d = toDisplay(shown) - toDisplay(luminance(red, green, blue))
    sum += d * d
  }
  return { sum, count: at.length }
}

/** ITU-R BT.709-6, linear light. */
export function luminance(red: number, green: number, blue: number): number {
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue
}

export function total(parts: readonly Squares[]): Squares {
  return parts.reduce((a, b) => ({ sum: a.sum + b.sum, count: a.count + b.count }), { sum: 0, count: 0 })
}

export function psnr({ sum, count }: Squares): number {
  if (count === 0) throw new RangeError('PSNR of no samples')
  return sum === 0 ? BEST_DB : Math.min(BEST_DB, -10 * Math.log10(sum / count))
}
