// How firmly a reference picture holds the camera, told before any other frame is read: the error of an offset that is to
// be expected from its texture and its grain alone (the inverse of the normal equations of B. D. Lucas, T. Kanade 1981).
import type { Reference } from '../match/reference.js'
import type { Plane } from '../raster/plane.js'

/** Side of the tiles that stand or fall together, pixels: about the width of somebody in shot. */
const TILE = 32
/** Share of the tiles, the strongest, without which a picture must hold: they may be somebody who walks off. */
const DOUBTED = 0.25
/** Coded footage differs by this much from itself, stops, however little grain it shows: what its smoothed residuals came to. */
const MIN_RESIDUAL = 0.01
/** Amplitude that the binomial low pass leaves of white noise. */
const SMOOTHED = 70 / 256

export interface Hold {
  /** Standard error of an offset in the worst direction, pixels; Infinity where nothing holds it. */
  readonly sigma: number
  /** The same without the strongest quarter of the picture. */
  readonly robust: number
}

/** @param noise the picture's grain, stops; null: unknown, then nothing is known to hold */
export function holdOf(reference: Reference, noise: number | null): Hold {
  if (noise === null) return { sigma: Number.POSITIVE_INFINITY, robust: Number.POSITIVE_INFINITY }
  const { low, gradientX, gradientY, grainGradient } = reference
  const tiles = new Map<number, [xx: number, xy: number, yy: number]>()
  for (let k = 0; k < low.value.length; k++) {
    const key = Math.floor(low.row[k] / TILE) * 65536 + Math.floor(low.column[k] / TILE)
    const tile = tiles.get(key) ?? [0, 0, 0]
    tiles.set(key, tile)
    tile[0] += gradientX[k] * gradientX[k] - grainGradient
    tile[1] += gradientX[k] * gradientY[k]
    tile[2] += gradientY[k] * gradientY[k] - grainGradient
  }
  const byStrength = [...tiles.values()].sort((a, b) => b[0] + b[2] - a[0] - a[2])
  // Both pictures have grain.
  const scale = Math.max(MIN_RESIDUAL, Math.SQRT2 * SMOOTHED * noise)
  return {
    sigma: worstError(byStrength, scale),
    robust: worstError(byStrength.slice(Math.ceil(DOUBTED * byStrength.length)), scale),
  }
}

/** Gradients of a tile must be this many times as strong as grain's (mean squares), and this strong, stops a pixel. */
const MIN_OVER_GRAIN = 3
const MIN_GRADIENT = 0.01

/**
 * Takes plain tiles out of a weight, so that the pixels that are compared are those that tell something: of a wide part of
 * a frame most may be sky.
 *
 * @param weight over the picture; written over
 * @param noise  the picture's grain, stops
 */
export function dropPlain({ width, height, data }: Plane, weight: Float32Array, noise: number): void {
  // A central difference of white noise has half its variance, each way.
  const least = MIN_OVER_GRAIN * noise * noise + MIN_GRADIENT * MIN_GRADIENT
  for (let top = 0; top < height; top += TILE) {
    for (let left = 0; left < width; left += TILE) {
      let sum = 0
      let n = 0
      const [right, bottom] = [Math.min(width, left + TILE), Math.min(height, top + TILE)]
      for (let y = Math.max(1, top); y < Math.min(bottom, height - 1); y++) {
        for (let x = Math.max(1, left), i = y * width + x; x < Math.min(right, width - 1); x++, i++) {
          if (!(weight[i] > 0)) continue
          sum += (data[i + 1] - data[i - 1]) ** 2 / 4 + (data[i + width] - data[i - width]) ** 2 / 4
          n++
        }
      }
      if (n > 0 && sum / n > least) continue
      for (let y = top; y < bottom; y++) weight.fill(0, y * width + left, y * width + right)
    }
  }
}

/** By the smaller eigenvalue of the summed 2 x 2 matrices. */
function worstError(tiles: readonly (readonly [number, number, number])[], scale: number): number {
  let xx = 0
  let xy = 0
  let yy = 0
  for (const [a, b, c] of tiles) {
    xx += a
    xy += b
    yy += c
  }
  const weak = (xx + yy - Math.hypot(xx - yy, 2 * xy)) / 2
  return weak > 0 ? scale / Math.sqrt(weak) : Number.POSITIVE_INFINITY
}
