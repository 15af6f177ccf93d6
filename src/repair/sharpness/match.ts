// The blur under which one picture of a surface is as sharp as another.
import type { Frame } from '../../raster/frame.js'
import type { GrainModel, Spectrum } from '../grain/model.js'
import { responseOf } from '../grain/spectrum.js'
import { compareSharpness, type Kept, tilePower, tilesAlike } from './compare.js'
import { gaussianTaps } from './gaussian.js'

/** Steps towards it at the most, and what is left of variance, square pixels, when it is reached. */
const ROUNDS = 6
const ENOUGH = 0.01
/** A tile's window smears a spectrum, so that a step falls short: by no more than to a quarter. */
const MAX_STEP = 4

/** Two pictures of one surface over the same pixels, and where they are compared. */
export interface Pair {
  /** Linear RGB. */
  readonly target: Frame
  /** Laid on the target; its light may be another one. */
  readonly donor: Frame
  /** Per pixel 1 where the donor has a value. */
  readonly there: Readonly<Uint8Array>
  readonly tiles: Readonly<Int32Array>
  readonly kept: Kept
}

/**
 * @returns sigma of the Gaussian that makes the donor as sharp as the target, pixels, 0 where it is no sharper; null where that
 *   can't be told
 */
export function sigmaBetween(pair: Pair, model: GrainModel): number | null {
  const tiles = tilesAlike(pair.target, pair.donor, pair.tiles)
  if (tiles === null) return null
  const target = tilePower(pair.target, tiles, model)
  /** How much sharper the donor still is under a blur: variance, square pixels, in the mean of both directions. */
  const leftOver = (variance: number): number | null => {
    const sigma = Math.sqrt(variance)
    const { donor, there, kept } = pair
    const blur = variance > 0 ? { sigma, there } : undefined
    const under = variance > 0 ? blurResponse(sigma) : null
    const left = under === null ? kept.donor : kept.donor.map((v, i) => v * under[i]!)
    const found = compareSharpness(target, tilePower(donor, tiles, model, blur), model, {
      ...kept,
      donor: left,
    })
    return found && (found.xx + found.yy) / 2
  }
  let [variance, before, last] = [0, 0, Number.NaN]
  for (let round = 0; round < ROUNDS; round++) {
    const left = leftOver(variance)
    if (left === null) return round === 0 ? null : Math.sqrt(variance)
    const step = (variance - before) / (last - left)
    const factor = round > 0 && step > 1 ? Math.min(MAX_STEP, step) : 1
    ;[before, last] = [variance, left]
    variance = Math.max(0, variance + factor * left)
    if (Math.abs(left) < ENOUGH) break
  }
  return Math.sqrt(variance)
}

/** What a blur leaves of power at each frequency. */
export function blurResponse(sigma: number): Spectrum {
  const taps = gaussianTaps(sigma)
  return responseOf(taps, taps)
}
