// The oracle: the best that a single donor can do (or one for each third, where no frame is empty all over), found by
// looking at the truth, with the true offset laid down by a sharp filter and the gain that fits the truth best.
import { openPlate, readRect } from '../../src/footage/plate.js'
import { grow, type Rect } from '../../src/raster/rect.js'
import { moved, type Picture, warped } from '../resample.js'
import type { Case } from './case.js'
import { middleOf } from './case.js'
import { toLinear } from './footage.js'
import { between, regionOn, rides, sees } from './places.js'
import { plateFolder, readTruth, takeFolder } from './plant.js'
import { luminance, psnr, type Squares, squaredError, total } from './score.js'
import { thirdsOf } from './thirds.js'

export interface Oracle {
  /** Best donor for the middle frame alone, dB. Where no frame is empty all over: the best donor of each third. */
  readonly middle: number
  /** Of donors for all of the region, the best. */
  readonly middleDonor: number
  /** Best donor that all frames of the window share, dB over the window; likewise. */
  readonly window: number
  readonly windowDonor: number
  /** Where each third has its own donor: their frames, and what one donor for all of the region comes to, dB. */
  readonly thirds?: {
    readonly middleDonors: readonly number[]
    readonly windowDonors: readonly number[]
    readonly alone: { readonly middle: number; readonly window: number }
  }
  /** The best donor's figure at the middle frame with the planted exposure difference as gain, same for all channels. */
  readonly middlePlantedGain: number
  /** For every donor: dB at the middle frame, and stops (middle over donor) as the truth in the region has them. */
  readonly donors: readonly { readonly frame: number; readonly middle: number; readonly stops: number }[]
}

/** Largest true offset between two frames, and the filter's taps. */
const MARGIN = 24
/** Of a camera that moves: taps, and corners of what is cut that lie outside of the region. */
const TAPS = 8

/** The best donor so far for a part of the region. */
interface Best {
  error: Squares
  donor: number
}

export async function findOracle(folder: string, planted: Case): Promise<Oracle> {
  const { frames, motion, window } = planted
  const truths = await Promise.all(window.frames.map((f) => readTruth(folder, f)))
  const layer = await layerOf(folder, planted)
  const parts = partsOf(planted, layer).map((part) => ({
    ...part,
    linear: truths.map((t, i) => linearOf(t, part.truthAt[i])),
    middle: nothing(),
    window: nothing(),
  }))
  const whole = parts[0]
  const middle = window.frames.indexOf(middleOf(window))
  const donors = []
  let middlePlantedGain = -1
  for (const [d, frame] of frames.entries()) {
    if (window.frames.includes(frame) || !layer.lends(frame)) continue
    const laid = await layer.lay(frame)
    for (const part of parts) {
      const { at, truthAt, linear } = part
      const fits = laid.map((l, t) => gainsOf(l, at[t], linear[t]))
      const errors = laid.map((l, t) => squaredError(l, truths[t], at[t], truthAt[t], fits[t].gain))
      keepBetter(part.middle, errors[middle], frame)
      keepBetter(part.window, total(errors), frame)
      if (part !== whole) continue
      donors.push({ frame, middle: psnr(errors[middle]), stops: fits[middle].logRatio })
      const even = 2 ** (motion[frames.indexOf(middleOf(window))].stops - motion[d].stops)
      const gain = [even, even, even]
      const plain = squaredError(laid[middle], truths[middle], at[middle], truthAt[middle], gain)
      middlePlantedGain = Math.max(middlePlantedGain, psnr(plain))
    }
  }
  if (donors.length === 0) throw new Error(`${planted.id}: no frame outside the window sees the region`)
  const alone = { middle: psnr(whole.middle.error), window: psnr(whole.window.error) }
  const rest = {
    middleDonor: whole.middle.donor,
    windowDonor: whole.window.donor,
    middlePlantedGain,
    donors,
  }
  if (parts.length === 1) return { ...alone, ...rest }
  const thirds = parts.slice(1)
  return {
    middle: psnr(total(thirds.map((p) => p.middle.error))),
    window: psnr(total(thirds.map((p) => p.window.error))),
    ...rest,
    thirds: {
      middleDonors: thirds.map((p) => p.middle.donor),
      windowDonors: thirds.map((p) => p.window.donor),
      alone,
    },
  }
}

/** Lays a donor on every frame of the window by the planted matrices. */
interface Layer {
  /** Can it show all of the region? */
  lends(frame: number): boolean
  /** Linear light, a picture per frame of the window: what is in its rectangle. */
  lay(frame: number): Promise<Picture[]>
  /** Per frame of the window, the rectangle that is laid. */
  readonly rects: readonly Rect[]
}

async function layerOf(folder: string, planted: Case): Promise<Layer> {
  const { box, frames, motion, take, window } = planted
  const plate = await openPlate(plateFolder(folder))
  if (!rides(planted)) {
    const near = grow(box, MARGIN)
    return {
      lends: () => true,
      rects: window.frames.map(() => box),
      async lay(frame) {
        const source = pictureOf(await readRect(plate, frame, near))
        const from = motion[frames.indexOf(frame)]
        return window.frames.map((target) => {
          const to = motion[frames.indexOf(target)]
          return moved(source, rectIn(near, box), to.dx - from.dx, to.dy - from.dy, 'lanczos')
        })
      },
    }
  }
  const other = take === undefined ? null : await openPlate(takeFolder(folder))
  const whole = { x: 0, y: 0, w: plate.width, h: plate.height }
  const rects = window.frames.map((target) => regionOn(planted, target).box)
  return {
    rects,
    // In the take to repair somebody hides the region all the time.
    lends: (frame) => (take === undefined || take.frames.includes(frame)) && sees(planted, frame, TAPS),
    async lay(frame) {
      const source = pictureOf(await readRect(take?.frames.includes(frame) ? other! : plate, frame, whole))
      return window.frames.map((target, t) =>
        warped(source, rectIn({ x: 0, y: 0 }, rects[t]), between(planted, frame, target), 'lanczos'),
      )
    },
  }
}

/** A part of the region: per frame of the window, offsets into what is laid and into the truth. */
interface Part {
  readonly at: readonly Int32Array[]
  readonly truthAt: readonly Int32Array[]
}

/** All of the region, then its thirds where it has such. */
function partsOf(planted: Case, { rects }: Layer): Part[] {
  const { box, crop, thirds, window } = planted
  const truthAt = window.frames.map((target) => regionOn(planted, target).pixels)
  const at = truthAt.map((pixels, t) => {
    const { x, y, w } = rects[t]
    return pixels.map((i) => (Math.floor(i / crop.w) - y) * w + (i % crop.w) - x)
  })
  if (thirds === undefined) return [{ at, truthAt }]
  const third = thirdsOf(box, thirds.angle)
  const only = (n: number): Part => ({
    at: at.map((list) => list.filter((i) => third[i] === n)),
    truthAt: truthAt.map((list, t) => list.filter((_, i) => third[at[t][i]] === n)),
  })
  return [{ at, truthAt }, only(0), only(1), only(2)]
}

function nothing(): Best {
  return { error: { sum: Number.POSITIVE_INFINITY, count: 0 }, donor: 0 }
}

function keepBetter(best: Best, error: Squares, donor: number): void {
  if (error.sum >= best.error.sum) return
  best.error = error
  best.donor = donor
}

export function pictureOf(frame: { shape: number[]; data: Float32Array }): Picture {
  return { width: frame.shape[1], height: frame.shape[0], data: frame.data }
}

function rectIn(outer: { readonly x: number; readonly y: number }, inner: Rect) {
  return { left: inner.x - outer.x, top: inner.y - outer.y, width: inner.w, height: inner.h }
}

/** Linear light of the region's pixels, three samples each. */
function linearOf(truth: Picture, at: Int32Array): Float32Array {
  const out = new Float32Array(at.length * 3)
  for (let i = 0; i < at.length; i++) {
    for (let c = 0; c < 3; c++) out[3 * i + c] = toLinear(truth.data[3 * at[i] + c])
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

function log2Luminance(rgb: Float32Array, i: number): number {
  return Math.log2(Math.max(LOG_FLOOR, luminance(rgb[i], rgb[i + 1], rgb[i + 2])))
}
