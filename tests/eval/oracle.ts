// The oracle: the best that a single donor can do, found by looking at the truth, with the true offset laid down by a
// sharp filter and the gain that fits the truth best.
import { openPlate, readRect } from '../../src/footage/plate.js'
import { grow, type Rect } from '../../src/raster/rect.js'
import { moved, type Picture } from '../resample.js'
import type { Case } from './plant.js'
import { middleOf, plateFolder, readTruth } from './plant.js'
import { regionPixels } from './region.js'
import { psnr, type Squares, squaredError, total } from './score.js'

export interface Oracle {
  /** Best donor for the middle frame alone, dB. */
  readonly middle: number
  readonly middleDonor: number
  /** Best donor that all frames of the window share, dB over the window. */
  readonly window: number
  readonly windowDonor: number
  /** The middle figure with the planted exposure difference as gain, same for all channels. */
  readonly middlePlantedGain: number
  /** For every donor: dB at the middle frame, and stops (middle over donor) as the truth in the region has them. */
  readonly donors: readonly { readonly frame: number; readonly middle: number; readonly stops: number }[]
}

/** Largest true offset between two frames, and the filter's taps. */
const MARGIN = 24

export async function findOracle(folder: string, planted: Case): Promise<Oracle> {
  const { box, frames, motion, window } = planted
  const plate = await openPlate(plateFolder(folder))
  const near = grow(box, MARGIN)
  const truths = await Promise.all(window.frames.map((f) => readTruth(folder, f)))
  const truthAt = regionPixels(box, planted.crop.w)
  const at = regionPixels({ ...box, x: 0, y: 0 }, box.w)
  const linearTruths = truths.map((t) => linearOf(t, truthAt))
  const middleIndex = window.frames.indexOf(middleOf(window))
  const donors = []
  let best = { middle: -1, middleDonor: 0, window: -1, windowDonor: 0 }
  let middlePlantedGain = -1
  for (const [d, frame] of frames.entries()) {
    if (window.frames.includes(frame)) continue
    const source = pictureOf(await readRect(plate, frame, near))
    const errors: Squares[] = []
    let middle = 0
    let stops = 0
    for (const [t, target] of window.frames.entries()) {
      const to = motion[frames.indexOf(target)]
      const from = motion[d]
      const laid = moved(source, rectIn(near, box), to.dx - from.dx, to.dy - from.dy, 'lanczos')
      const { gain, logRatio } = gainsOf(laid, at, linearTruths[t])
      const error = squaredError(laid, truths[t], at, truthAt, gain)
      errors.push(error)
      if (t !== middleIndex) continue
      middle = psnr(error)
      stops = logRatio
      const even = 2 ** (to.stops - from.stops)
      const plain = psnr(squaredError(laid, truths[t], at, truthAt, [even, even, even]))
      middlePlantedGain = Math.max(middlePlantedGain, plain)
    }
    const whole = psnr(total(errors))
    donors.push({ frame, middle, stops })
    if (middle > best.middle) best = { ...best, middle, middleDonor: frame }
    if (whole > best.window) best = { ...best, window: whole, windowDonor: frame }
  }
  return { ...best, middlePlantedGain, donors }
}

export function pictureOf(frame: { shape: number[]; data: Float32Array }): Picture {
  return { width: frame.shape[1], height: frame.shape[0], data: frame.data }
}

function rectIn(outer: Rect, inner: Rect) {
  return { left: inner.x - outer.x, top: inner.y - outer.y, width: inner.w, height: inner.h }
}

/** Linear light of the region's pixels, three samples each. */
function linearOf(truth: Picture, at: Int32Array): Float32Array {
  const out = new Float32Array(at.length * 3)
  for (let i = 0; i < at.length; i++) {
    for (let c = 0; c < 3; c++) {
      const v = truth.data[3 * at[i] + c]
      // IEC 61966-2-1
      out[3 * i + c] = v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
    }
  }
  return out
}

/** Keeps the logarithm off zero in black pixels. */
const LOG_FLOOR = 1e-4

/** Least-squares gain per channel from donor to truth, and the mean difference of log2 luminance, truth over donor. */
function gainsOf(donor: Picture, at: Int32Array, truth: Float32Array): { gain: number[]; logRatio: number } {
  const product = [0, 0, 0]
  const square = [0, 0, 0]
  let log = 0
  for (let i = 0; i < at.length; i++) {
    for (let c = 0; c < 3; c++) {
      const d = donor.data[3 * at[i] + c]
      product[c] += d * truth[3 * i + c]
      square[c] += d * d
    }
    log += log2Luminance(truth, 3 * i) - log2Luminance(donor.data, 3 * at[i])
  }
  return { gain: product.map((p, c) => (square[c] > 0 ? p / square[c] : 1)), logRatio: log / at.length }
}

/** ITU-R BT.709-6 luminance, log base 2. */
function log2Luminance(rgb: Float32Array, i: number): number {
  return Math.log2(Math.max(LOG_FLOOR, 0.2126 * rgb[i] + 0.7152 * rgb[i + 1] + 0.0722 * rgb[i + 2]))
}
