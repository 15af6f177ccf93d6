// The small pictures of all frames of a plate, kept for as long as its strip is: half floats of log luminance, NaN where nothing is
// known. A pixel's is off by 0.004 stops at most, and means over many by far less.
import { floatsToHalves, HALF_NAN, HALF_VALUES } from '../../raster/half.js'
import type { SurfaceWeights } from '../surface.js'
import type { SmallLight } from './small-light.js'

export interface KeptLight {
  readonly width: number
  readonly height: number
  /** Plate pixels of a side per pixel. */
  readonly factor: number
  readonly halves: Uint16Array
}

export function keptLight({ width, height, factor, log, known }: SmallLight): KeptLight {
  const halves = new Uint16Array(log.length)
  floatsToHalves(log, halves)
  for (let i = 0; i < known.length; i++) if (known[i] !== 1) halves[i] = HALF_NAN
  return { width, height, factor, halves }
}

/** Weighted mean of log2 luminance; null where nothing of the surface is known. */
export function lightOn({ halves }: KeptLight, { index, weight }: SurfaceWeights): number | null {
  let [sum, total] = [0, 0]
  for (let k = 0; k < index.length; k++) {
    const log = HALF_VALUES[halves[index[k]!]!]!
    if (log - log !== 0) continue
    sum += weight[k]! * log
    total += weight[k]!
  }
  return total > 0 ? sum / total : null
}
