// How much of the lacking grain each pixel of a patch takes, and how much of the lent pixels' own detail makes room for it,
// so that all detail together stays as strong as the donors had it there: a codec takes grain away from a smooth wall, and
// leaves it beside an edge. Local statistics as J.-S. Lee, Digital Image Enhancement and Noise Filtering by Use of Local
// Statistics (IEEE PAMI 1980); differs: not the least error is looked for but the same variance.
import { detailVariance, keepDetail as keepPlaneDetail } from '../../kernels/box.js'
import { putChannel, takeChannel } from '../../kernels/channels.js'
import { fitNoise } from '../../kernels/patch.js'
import type { Scratch, Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import { DETAIL_PX, detailIn, GREEN } from './detail-spectrum.js'
import type { Lacking } from './lacking.js'
import { type GrainModel, grainAt, grainOver, type Spectrum } from './model.js'

/** Its variance is taken over so many pixels either way: few enough to follow an edge. */
export const AROUND_PX = 2

/** Per pixel of a picture, factors of standard deviations. */
export interface Fit {
  /** Of the detail of the lent pixels, 0 to 1. */
  readonly stays: Float32Array
  /** Of the spectra of `Lacking`, 0 to 1: noise that is new on each frame, and noise that lasts. */
  readonly fresh: Float32Array
  readonly lasting: Float32Array
}

/** Where noise is laid, per pixel: where `alpha` is above 0, of a mosaic as much as the piece has of it. */
export interface Laid {
  readonly alpha: Readonly<Float32Array>
  readonly piece: Readonly<Float32Array> | null
}

/** Local variance of green's detail, linear light squared. @param out receives it */
export function detailEnergy(
  workspace: Workspace,
  { data, shape: [height, width] }: Frame,
  out: Float32Array = new Float32Array(width * height),
): Float32Array {
  takeChannel(workspace, data, GREEN, out)
  energyOf(workspace, out, width)
  return out
}

/** A plane becomes the local variance of its detail. */
export function energyOf(workspace: Workspace, plane: Float32Array, width: number): void {
  detailVariance(workspace, plane, width, DETAIL_PX, AROUND_PX)
}

/**
 * Lasting noise is an autoregressive process of order 1 (G. Box, G. Jenkins, Time Series Analysis, 1970): of its variance
 * `1 - carried` is what changes from frame to frame.
 *
 * @param scratch lends what is answered
 * @param patch  linear RGB, as it is lent
 * @param energy detail of the donors before they were moved and averaged, as `detailEnergy` has it
 */
export function fitGrain(
  workspace: Workspace,
  scratch: Scratch,
  patch: Frame,
  energy: Readonly<Float32Array>,
  model: GrainModel,
  { change, absent, carried }: Lacking,
  laid: Laid,
): Fit {
  const pixels = patch.shape[0] * patch.shape[1]
  const fit = {
    stays: scratch.floats(pixels),
    fresh: scratch.floats(pixels),
    lasting: scratch.floats(pixels),
  }
  workspace.within((inner) => {
    const [strength, own] = [inner.floats(pixels), inner.floats(pixels)]
    takeChannel(workspace, patch.data, GREEN, strength)
    own.set(strength)
    energyOf(workspace, own, patch.shape[1])
    grainOver(workspace, model, GREEN, strength)
    const noise = { change: detailOf(model, change), absent: detailOf(model, absent), carried }
    fitNoise(workspace, { strength, where: model.where, own, energy, ...laid }, noise, fit)
  })
  return fit
}

/** Variance of green's detail that grain of a spectrum has at a pixel of so much light, linear light squared. */
export function grainDetail(
  model: GrainModel,
  spectra: readonly Spectrum[],
  light: number,
  pixel: number,
): number {
  return detailOf(model, spectra) * (grainAt(model, GREEN, light) * (model.where?.[pixel] ?? 1)) ** 2
}

/** Variance of noise's detail in green, of a model of unit light. */
function detailOf({ mix }: GrainModel, spectra: readonly Spectrum[]): number {
  return spectra.reduce((sum, s, k) => sum + mix[3 * GREEN + k]! ** 2 * detailIn(s), 0)
}

/** Brings a picture's detail down, in place. */
export function keepDetail(
  workspace: Workspace,
  { data, shape: [height, width] }: Frame,
  stays: Readonly<Float32Array>,
): void {
  if (isOne(stays)) return
  workspace.within((scratch) => {
    const share = scratch.laid(stays)
    const plane = scratch.floats(width * height)
    for (let c = 0; c < 3; c++) {
      takeChannel(workspace, data, c, plane)
      keepPlaneDetail(workspace, plane, share, width, DETAIL_PX)
      putChannel(workspace, plane, c, data)
    }
  })
}

function isOne(values: Readonly<Float32Array>): boolean {
  for (let i = 0; i < values.length; i++) if (values[i] !== 1) return false
  return true
}
