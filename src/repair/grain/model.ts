// What a plate's grain is: how strong in each channel at each brightness, how the channels go together, how fine it is, and
// how much of it is another one in the next frame. Film and sensors renew all of it; a codec carries most of it along.

import { powerLaw } from '../../kernels/light.js'
import type { Workspace } from '../../kernels/workspace.js'

/** The tiles on which grain is measured have the side of its power spectra. */
export { TILE_PX } from '../../kernels/tiles.js'

/** Power over TILE_PX x TILE_PX frequencies, row by row, as a discrete Fourier transform has them; the mean is a variance. */
export type Spectrum = Float64Array

export interface GrainModel {
  /** R, G, B: standard deviation is `level * light ** power`, linear light. */
  readonly level: readonly [number, number, number]
  readonly power: readonly [number, number, number]
  /** Over the picture that it was measured on: how much more of it there is at a place than the light tells; null: the same. */
  readonly where: Readonly<Float32Array> | null
  /**
   * Row c, column k: how much of the uncorrelated component k is in channel c. A channel's components together have the
   * variance 1.
   */
  readonly mix: Readonly<Float64Array>
  /** Per component: all of its variance, and half of that of what changes from one frame to the next. */
  readonly whole: readonly Spectrum[]
  readonly fresh: readonly Spectrum[]
  /** What neighbours change by over all that was looked at, as `changeOver` has it; null where frames had to be moved for it. */
  readonly changes: number | null
}

/** How grain goes with light where a plate does not show enough of both: between photons (0.5) and a display's code (0.6). */
export const USUAL_POWER = 0.55
/** Light below this, linear, has the grain of this: a power law has no floor of its own. */
export const DARKEST = 1e-4

/** Standard deviation of a channel's grain at so much light, linear. */
export function grainAt(
  { level, power }: Pick<GrainModel, 'level' | 'power'>,
  channel: number,
  light: number,
): number {
  return level[channel]! * Math.max(DARKEST, light) ** power[channel]!
}

/** The same for many pixels: light of one channel becomes its grain, in place. */
export function grainOver(
  workspace: Workspace,
  { level, power }: Pick<GrainModel, 'level' | 'power'>,
  channel: number,
  light: Float32Array,
): void {
  powerLaw(workspace, light, level[channel]!, power[channel]!, DARKEST)
}

/** Mean of a spectrum: the variance it stands for. */
export function varianceOf(spectrum: Readonly<Spectrum>): number {
  let sum = 0
  for (const power of spectrum) sum += power
  return sum / spectrum.length
}
