// Grain for a patch that lost some: a resampled or averaged donor is smoother than the plate, and that shows in motion.
// The missing variance is added as seeded noise that is coloured like the plate's: the same for the same frame, always.
import type { Frame } from '../raster/frame.js'

/** A donor within this share of the target's grain needs none: nobody sees a twentieth. */
const ENOUGH = 0.95

/**
 * Adds grain to a patch in place.
 *
 * @param picture    linear RGB over the window
 * @param grain      the patch's noise over the target's, as in `result.json`
 * @param noiseStops the target's noise, standard deviation in stops (log2 luminance)
 * @param seed       the target frame's number: each frame has its own grain, and a second run the same
 */
export function regrain(picture: Frame, grain: number | null, noiseStops: number | null, seed: number): void {
  if (grain === null || noiseStops === null || grain >= ENOUGH) return
  const missing = noiseStops * Math.sqrt(1 - grain * grain)
  const random = gaussian(seed)
  const { data } = picture
  for (let i = 0; i < data.length; i += 3) {
    // A factor, common to the channels: stops of luminance are what was measured.
    const factor = 2 ** (missing * random())
    data[i] *= factor
    data[i + 1] *= factor
    data[i + 2] *= factor
  }
}

/** Standard normal numbers: mulberry32 under the Box-Muller transform. */
function gaussian(seed: number): () => number {
  let state = Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) >>> 0
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform())
}
