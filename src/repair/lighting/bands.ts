// How much of a ratio's detail is light and how much is grain: the ratio is taken in windows of several sizes, and what
// a smaller one adds to the next larger is kept as far as there is more of it than grain alone would show. Empirical
// Wiener shrinkage in bands, M. K. Mihcak, I. Kozintsev, K. Ramchandran, P. Moulin, Low-complexity Image Denoising Based
// on Statistical Modeling of Wavelet Coefficients (IEEE SPL 1999); differs: the bands lie between windows of a
// least-squares ratio, and grain's share of each is measured on the plate's own unlit frames, coding noise and all.
import { LUMINANCE_WEIGHTS } from '../../colour/luminance.js'
import { addBand, blur, logs } from '../../kernels/ratio.js'
import type { Workspace } from '../../kernels/workspace.js'
import { ratioAt } from './estimate.js'

/** Window sizes, narrow first. */
const SCALES = [1, 2, 4, 8] as const
/** A band's strength is looked at in windows this many times wider than its own: its grain is then known to a tenth. */
const ENERGY_WIDER = 2
/** Bands with less than so many times grain's own variance are grain: in one window it may well show twice its mean. */
const GRAIN_TIMES = 2

/** Three planes, R, G and B. */
export type Channels = readonly Readonly<Float32Array>[]

/**
 * log2 of ratios: of luminance, then of R, G and B over luminance, each a plane per window size. Colour goes its own way
 * because it changes less than light over a shadow's edge, and its grain is another.
 */
export type LogRatios = readonly (readonly Float32Array[])[]

/** Variance of grain in each band of each plane, log2 squared. */
export type BandGrain = readonly (readonly Float32Array[])[]

/**
 * @param validity 0 to 1 per pixel; 0 leaves it out
 * @param noise variance of luminance grain, linear light squared, per pixel
 */
export function logRatios(
  workspace: Workspace,
  donor: Channels,
  reference: Channels,
  validity: Readonly<Float32Array>,
  noise: Readonly<Float32Array>,
  width: number,
): LogRatios {
  const at = (a: Readonly<Float32Array>, b: Readonly<Float32Array>) =>
    SCALES.map((scale) => {
      const ratio = ratioAt(workspace, { donor: a, reference: b, validity, noise }, width, scale)
      logs(workspace, ratio)
      return ratio
    })
  const light = at(luminanceOf(donor), luminanceOf(reference))
  const colours = donor.map((channel, c) => {
    const planes = at(channel, reference[c])
    for (const [k, plane] of planes.entries()) for (let i = 0; i < plane.length; i++) plane[i] -= light[k][i]
    return planes
  })
  return [light, ...colours]
}

/** Grain's variance in each band, from ratios of unlit frames to their mean, smoothed over `radius`. */
export function bandGrain(
  workspace: Workspace,
  unlit: readonly LogRatios[],
  width: number,
  radius: number,
): BandGrain {
  return unlit[0].map((planes, p) =>
    planes.slice(1).map((_, band) => {
      const square = new Float32Array(planes[0].length)
      for (const ratios of unlit) {
        const [fine, coarse] = [ratios[p][band], ratios[p][band + 1]]
        for (let i = 0; i < square.length; i++) {
          const d = fine[i] - coarse[i]
          square[i] += (d * d) / unlit.length
        }
      }
      blur(workspace, square, width, radius)
      return square
    }),
  )
}

/**
 * Puts the bands together again without their grain.
 *
 * @returns log2 of the factors of R, G and B: stops
 */
export function withoutGrain(
  workspace: Workspace,
  ratios: LogRatios,
  grain: BandGrain,
  width: number,
): Float32Array[] {
  const [light, ...colours] = ratios.map((planes, p) => {
    const out = planes[SCALES.length - 1].slice()
    for (let band = SCALES.length - 2; band >= 0; band--) {
      // Photon noise shrinks with the root of the light, so that its share of a darker pixel grows.
      const of = {
        fine: planes[band],
        coarse: planes[band + 1],
        light: ratios[0][band + 1],
        grain: grain[p][band],
      }
      addBand(workspace, of, width, ENERGY_WIDER * SCALES[band], GRAIN_TIMES, out)
    }
    return out
  })
  for (const colour of colours) for (let i = 0; i < colour.length; i++) colour[i] += light[i]
  return colours
}

export function luminanceOf([r, g, b]: Channels): Float32Array {
  const [wr, wg, wb] = LUMINANCE_WEIGHTS
  const out = new Float32Array(r.length)
  for (let i = 0; i < out.length; i++) out[i] = wr * r[i] + wg * g[i] + wb * b[i]
  return out
}
