// Grain and sharpness of a picture on a set of pixels.
// Noise: median absolute deviation of the finest diagonal band, D. L. Donoho, Ideal Spatial Adaptation by Wavelet
// Shrinkage (Biometrika 1994): sigma = MAD / 0.6745. The band is the undecimated 2 x 2 Haar one, so it needs no grid.
import { gradientSquares } from '../kernels/detail.js'
import type { Workspace } from '../kernels/workspace.js'
import { MAD_TO_SIGMA, select } from './selection.js'
import { oddStep } from './subsample.js'

/** Fewer samples than this tell no noise. */
const MIN_SAMPLES = 16
/** Samples of the band that the median is taken of, spread over the picture: it is then within a per cent. */
const MAX_SAMPLES = 16384

/**
 * Standard deviation of the pixel-to-pixel noise, in the picture's units (stops for log2 luminance).
 *
 * @param weight pixels with more than 0 count, together with their right, lower and diagonal neighbour
 * @returns null where fewer than 16 pixels count
 */
export function noiseSigma(
  workspace: Workspace,
  picture: Readonly<Float32Array>,
  width: number,
  weight: Readonly<Float32Array>,
): number | null {
  const step = oddStep(picture.length, MAX_SAMPLES)
  return workspace.within((scratch) => {
    const band = scratch.floats(Math.ceil(picture.length / step))
    const n = diagonalBand(picture, width, weight, step, band)
    return n < MIN_SAMPLES ? null : MAD_TO_SIGMA * select(band, n >> 1, n)
  })
}

/** The band's strength at every `step`-th pixel that counts. @returns how many those are */
function diagonalBand(
  picture: Readonly<Float32Array>,
  width: number,
  weight: Readonly<Float32Array>,
  step: number,
  band: Float32Array,
): number {
  let n = 0
  for (let i = 0; i + width + 1 < picture.length; i += step) {
    if (i % width === width - 1) continue
    if (!(weight[i] > 0 && weight[i + 1] > 0 && weight[i + width] > 0 && weight[i + width + 1] > 0)) continue
    band[n++] = Math.abs(picture[i] - picture[i + 1] - picture[i + width] + picture[i + width + 1]) / 2
  }
  return n
}

/**
 * Mean square of the gradient (central differences) where `weight` is more than 0; 0 where nothing counts.
 *
 * @param both 1 or 0 per pixel in each of two pictures: pixels that are 1 in both, as their four neighbours are, count; absent: all do
 */
export function gradientEnergy(
  workspace: Workspace,
  picture: Readonly<Float32Array>,
  width: number,
  weight: Readonly<Float32Array>,
  both?: readonly [Readonly<Uint8Array>, Readonly<Uint8Array>],
): number {
  const [square, n] = gradientSquares(workspace, picture, width, weight, both)
  return n > 0 ? square / n : 0
}
