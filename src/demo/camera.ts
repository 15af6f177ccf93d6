// The camera: a lens that blurs a little, a tripod that sways, an exposure that wanders.
import { LANCZOS3, taps } from '../raster/filters.js'
import type { Plane } from '../raster/plane.js'
import { type Canvas, OVERSAMPLING } from './canvas.js'
import { random } from './noise.js'
import { STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'

/** Width of the lens's blur (standard deviation), plate pixels: together with the pixel's own area, contrast halves at a third of a cycle per pixel. */
const LENS_BLUR_PX = 0.45
/** Sway: slow waves of about this size and this much shaking from frame to frame, stage units. */
const SWAY = 1.5
const SHAKE = 0.15
/** Exposure: the drift's range from low to high, and the flicker's standard deviation, stops. */
const DRIFT_STOPS = 0.25
const FLICKER_STOPS = 0.006
/** How much the corners lose, stops. */
const VIGNETTE_STOPS = 0.3

/** What the camera does on one frame. */
export interface Take {
  /** How far the whole picture is displaced from rest, pixels right and down. */
  readonly dx: number
  readonly dy: number
  readonly exposureStops: number
}

/** A wandering value: slow waves at seeded phases, between about -1 and 1. */
function wander(seed: number, time: number, periods: readonly number[]): number {
  const next = random(seed)
  let sum = 0
  let weight = 0
  for (let k = 0; k < periods.length; k++) {
    const w = 1 / (k + 1)
    sum += w * Math.sin((2 * Math.PI * time) / periods[k] + 2 * Math.PI * next())
    weight += w
  }
  return sum / weight
}

/**
 * The camera on the frame at that time of the story.
 *
 * @param index counts the plate's frames from 0 and seeds what changes from frame to frame
 * @param time  in story frames
 */
export function takeAt(seed: number, index: number, time: number, width: number, height: number): Take {
  const shake = random(seed * 8191 + index * 131 + 17)
  const dx = SWAY * wander(seed + 301, time, [97, 43, 21]) + SHAKE * bell(shake)
  const dy = 0.8 * SWAY * wander(seed + 302, time, [71, 34, 17]) + SHAKE * bell(shake)
  const drift = (DRIFT_STOPS / 2) * 1.25 * wander(seed + 303, time, [173, 83, 47])
  return {
    dx: (dx * width) / STAGE_WIDTH,
    dy: (dy * height) / STAGE_HEIGHT,
    exposureStops: drift + FLICKER_STOPS * bell(shake),
  }
}

/** About normally distributed, within three standard deviations: a jump outside the canvas's margin can't happen. */
function bell(next: () => number): number {
  return (next() + next() + next() + next() - 2) * Math.sqrt(3)
}

/** Blurs a canvas's planes as lens and pixel area do; after it, the canvas may be sampled anywhere between samples. */
export function throughLens(canvas: Canvas): void {
  const weights = lensKernel()
  const planes = [canvas.red, canvas.green, canvas.blue, ...Object.values(canvas.mattes)]
  const scratch = new Float32Array(canvas.width * canvas.height)
  for (const p of planes) {
    alongRows(p.data, scratch, canvas.width, canvas.height, weights)
    alongColumns(scratch, p.data, canvas.width, canvas.height, weights)
  }
}

/** A pixel's box, OVERSAMPLING samples wide, blurred by a Gaussian; adds up to 1. */
function lensKernel(): Float64Array {
  const radius = 4
  const sigma = LENS_BLUR_PX * OVERSAMPLING
  const weights = new Float64Array(2 * radius + 1)
  let sum = 0
  for (let k = -radius; k <= radius; k++) {
    // The box is integrated in steps fine enough that its edges between samples count.
    for (let t = -31; t <= 31; t += 2) {
      const u = k + (t / 64) * OVERSAMPLING
      weights[k + radius] += Math.exp((-u * u) / (2 * sigma * sigma))
    }
    sum += weights[k + radius]
  }
  for (let k = 0; k < weights.length; k++) weights[k] /= sum
  return weights
}

function alongRows(
  from: Float32Array,
  to: Float32Array,
  width: number,
  height: number,
  w: Float64Array,
): void {
  const radius = (w.length - 1) / 2
  for (let y = 0, at = 0; y < height; y++) {
    const row = y * width
    for (let x = 0; x < width; x++, at++) {
      let sum = 0
      if (x >= radius && x < width - radius) {
        for (let k = -radius; k <= radius; k++) sum += w[k + radius] * from[at + k]
      } else {
        for (let k = -radius; k <= radius; k++) {
          sum += w[k + radius] * from[row + Math.min(width - 1, Math.max(0, x + k))]
        }
      }
      to[at] = sum
    }
  }
}

function alongColumns(
  from: Float32Array,
  to: Float32Array,
  width: number,
  height: number,
  w: Float64Array,
): void {
  const radius = (w.length - 1) / 2
  for (let y = 0; y < height; y++) {
    const row = y * width
    to.fill(0, row, row + width)
    for (let k = -radius; k <= radius; k++) {
      const source = Math.min(height - 1, Math.max(0, y + k)) * width
      const weight = w[k + radius]
      for (let x = 0; x < width; x++) to[row + x] += weight * from[source + x]
    }
  }
}

/** A rectangle of the plate, whole pixels. */
export interface Window {
  readonly x: number
  readonly y: number
  readonly w: number
  readonly h: number
}

/**
 * One plane of the canvas as a swaying camera sees it: out(x, y) = rest(x - dx, y - dy), rows of `window`.
 *
 * @param out     window.w * window.h samples
 * @param scratch at least window.w * canvas height samples
 */
export function sample(
  source: Plane,
  margin: number,
  window: Window,
  take: Take,
  out: Float32Array,
  scratch: Float32Array,
): void {
  // Between two samples lies a pixel's centre: half a sample right of the even one.
  const across = taps(OVERSAMPLING * take.dx - (OVERSAMPLING - 1) / 2, LANCZOS3)
  const down = taps(OVERSAMPLING * take.dy - (OVERSAMPLING - 1) / 2, LANCZOS3)
  const { width, data } = source
  const left = OVERSAMPLING * (window.x + margin) + across.start
  const top = OVERSAMPLING * (window.y + margin) + down.start
  const rows = OVERSAMPLING * (window.h - 1) + down.weights.length
  for (let j = 0; j < rows; j++) {
    weigh(data, (top + j) * width + left, OVERSAMPLING, 1, across.weights, scratch, j * window.w, window.w)
  }
  for (let y = 0; y < window.h; y++) {
    weigh(scratch, OVERSAMPLING * y * window.w, 1, window.w, down.weights, out, y * window.w, window.w)
  }
}

/** A row of weighted sums: to[at + i] = sum over k of weights[k] * from[start + i * step + k * apart]. */
function weigh(
  from: Float32Array,
  start: number,
  step: number,
  apart: number,
  weights: Float64Array,
  to: Float32Array,
  at: number,
  count: number,
): void {
  const end = at + count
  // Between samples Lanczos has six taps, and this is where rendering spends its time: written out, it takes half of it.
  if (weights.length === 6) {
    const [w0, w1, w2, w3, w4, w5] = weights
    const [a1, a2, a3, a4, a5] = [apart, 2 * apart, 3 * apart, 4 * apart, 5 * apart]
    for (let i = start; at < end; at++, i += step) {
      to[at] =
        w0 * from[i] +
        w1 * from[i + a1] +
        w2 * from[i + a2] +
        w3 * from[i + a3] +
        w4 * from[i + a4] +
        w5 * from[i + a5]
    }
    return
  }
  for (let a = start; at < end; at++, a += step) {
    let sum = 0
    for (let k = 0, i = a; k < weights.length; k++, i += apart) sum += weights[k] * from[i]
    to[at] = sum
  }
}

/** What the lens lets through at each pixel, 1 in the middle; it belongs to the lens and does not sway. */
export function vignette(width: number, height: number): Float32Array {
  const out = new Float32Array(width * height)
  for (let y = 0, at = 0; y < height; y++) {
    const v = (2 * (y + 0.5)) / height - 1
    for (let x = 0; x < width; x++, at++) {
      const u = (2 * (x + 0.5)) / width - 1
      const r2 = (u * u * 0.76 + v * v * 0.24) / 1
      out[at] = 2 ** (-VIGNETTE_STOPS * r2 * r2)
    }
  }
  return out
}
