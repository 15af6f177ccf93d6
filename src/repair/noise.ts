// How much noise a plate has, per channel. Fine texture looks like noise in one frame, and the blocks of a codec stand still
// like texture: so noise is what flat places show and what is another one in the next frame, the smaller of the two.
// Both by the MAD of the finest diagonal Haar band, D. L. Donoho, Ideal Spatial Adaptation by Wavelet Shrinkage (1994).

import { MAD_TO_SIGMA, select } from '../match/selection.js'
import { type Filter, taps } from '../raster/filters.js'

/** Flatness is judged tile by tile: noise is known to an eighth in one, and a wall's texture seldom fills all of them. */
const TILE_PX = 12
/** Of a tile this many samples must count. */
const MIN_SAMPLES = 48
/** Tiles up to this share, the quietest first, are flat. */
const FLAT_SHARE = 0.25

/** Standard deviation of R, G and B in stops. */
export type ChannelNoise = readonly [number, number, number]

/**
 * Noise of a picture at its flattest places, in its own units.
 *
 * @param weight 0 leaves a pixel out
 * @returns null where no tile has enough pixels
 */
export function flatNoise(
  picture: Readonly<Float32Array>,
  width: number,
  weight: Readonly<Float32Array>,
): number | null {
  const height = picture.length / width
  const band = new Float32Array(TILE_PX * TILE_PX)
  const found: number[] = []
  for (let top = 0; top + 1 < height; top += TILE_PX)
    for (let left = 0; left + 1 < width; left += TILE_PX) {
      const right = Math.min(left + TILE_PX, width - 1)
      const bottom = Math.min(top + TILE_PX, height - 1)
      let n = 0
      for (let y = top; y < bottom; y++)
        for (let i = y * width + left; i < y * width + right; i++) {
          const value = diagonal(picture, i, width, weight)
          if (value !== null) band[n++] = value
        }
      if (n >= MIN_SAMPLES) found.push(MAD_TO_SIGMA * select(band, n >> 1, n))
    }
  if (found.length === 0) return null
  return found.sort((a, b) => a - b)[Math.floor(FLAT_SHARE * (found.length - 1))]!
}

/**
 * Noise that is another one in the next frame, in the pictures' own units.
 *
 * @param next  the next frame, moved onto this one
 * @param power from `diagonalPower`: what moving left of its noise's variance
 * @returns null where too few pixels count
 */
export function movingNoise(
  picture: Readonly<Float32Array>,
  next: Readonly<Float32Array>,
  width: number,
  weight: Readonly<Float32Array>,
  power: number,
): number | null {
  const difference = picture.map((v, i) => v - next[i]!)
  const band = new Float32Array(difference.length)
  let n = 0
  for (let i = 0; i + width + 1 < difference.length; i++) {
    if (i % width === width - 1) continue
    const value = diagonal(difference, i, width, weight)
    if (value !== null) band[n++] = value
  }
  if (n < MIN_SAMPLES) return null
  return (MAD_TO_SIGMA * select(band, n >> 1, n)) / Math.sqrt(1 + power)
}

/** Share of white noise's variance that a shift leaves in the diagonal band. */
export function diagonalPower(dx: number, dy: number, kernel: Filter): number {
  return detailPower(dx, kernel) * detailPower(dy, kernel)
}

/** The same after differences of neighbours. */
function detailPower(shift: number, kernel: Filter): number {
  const { weights } = taps(shift, kernel)
  let sum = 0
  for (let k = 0; k <= weights.length; k++) sum += ((weights[k] ?? 0) - (weights[k - 1] ?? 0)) ** 2
  return sum / 2
}

function diagonal(
  picture: Readonly<Float32Array>,
  i: number,
  width: number,
  weight: Readonly<Float32Array>,
): number | null {
  if (!(weight[i]! > 0 && weight[i + 1]! > 0 && weight[i + width]! > 0 && weight[i + width + 1]! > 0))
    return null
  return Math.abs(picture[i]! - picture[i + 1]! - picture[i + width]! + picture[i + width + 1]!) / 2
}
