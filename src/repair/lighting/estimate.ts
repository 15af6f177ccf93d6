// The smooth ratio of two pictures of one surface, where grain would drown the ratio of their pixels.
// In a window it is the least-squares factor that turns the reference into the other, with a prior that it is 1: where
// there is little light there is little evidence, and the answer goes to 1 instead of exploding. What such a mean cuts off
// a shadow's edges is put back by lifting once more from what the first answer left over: J. W. Tukey's twicing
// (Exploratory Data Analysis, 1977; W. Stuetzle, Y. Mittal, 1979: the bias falls from second to fourth order).
import { type RatioPair, refineRatio } from '../../kernels/ratio.js'
import type { Workspace } from '../../kernels/workspace.js'

/** How far from 1 ratios lie, as a standard deviation: a stop either way. */
const PRIOR_RATIO = 1
/** A ratio below this is no shadow but a hole in the light; 8 stops. */
const MIN_RATIO = 2 ** -8

/** Twicing: one mean, and one of what it left over. More only lets grain back in. */
const ROUNDS = 2

/**
 * The ratio at one window size.
 *
 * @param pair   the donor, and the same surface in its reference state, in the same light
 * @param radius of three box blurs, which together are near a Gaussian of sigma sqrt(r (r + 1)) pixels
 * @returns donor over reference
 */
export function ratioAt(workspace: Workspace, pair: RatioPair, width: number, radius: number): Float32Array {
  const out = new Float32Array(pair.donor.length).fill(1)
  // As many independent pixels as a Gaussian window holds.
  const pixels = 4 * Math.PI * radius * (radius + 1)
  const prior = 1 / (pixels * PRIOR_RATIO * PRIOR_RATIO)
  refineRatio(workspace, pair, width, { radius, prior, least: MIN_RATIO, rounds: ROUNDS }, out)
  return out
}
