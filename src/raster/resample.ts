// Resampling under any transform: every pixel of the result looks up where it comes from (G. Wolberg, Digital Image
// Warping, 1990, inverse mapping) and weighs the samples round that place. Of a shift all pixels have the same taps,
// which is what the kernels do; this is the general case, and the slow twin of that one.
import { type Filter, taps } from './filters.js'
import type { Plane } from './plane.js'
import { apply, invert, type Transform } from './transform.js'

/**
 * A plane moved by a transform, over `out`'s rectangle; beyond the source its edge samples are repeated. The filter keeps
 * its width: a transform that makes the picture smaller by much needs a smaller source first.
 *
 * @param out receives out(p) = source(invert(transform)(p)); may not share samples with the source
 * @throws RangeError where the transform has no inverse
 */
export function resamplePlane(source: Plane, transform: Transform, out: Plane, filter: Filter): void {
  const back = invert(transform)
  const { data, width, height } = out
  for (let y = 0, i = 0; y < height; y++) {
    for (let x = 0; x < width; x++, i++) {
      const from = apply(back, out.x + x, out.y + y)
      data[i] = sampleAt(source, from.x, from.y, filter)
    }
  }
}

/** What a plane shows at a place between its pixels, plate pixels. */
export function sampleAt(
  { data, width, height, ...corner }: Plane,
  x: number,
  y: number,
  filter: Filter,
): number {
  // Further out than the filter reaches there is nothing but the edge.
  const beyond = Math.ceil(filter.radius)
  const across = taps(-clamp(x - corner.x, -beyond, width - 1 + beyond), filter)
  const down = taps(-clamp(y - corner.y, -beyond, height - 1 + beyond), filter)
  let sum = 0
  for (let k = 0; k < down.weights.length; k++) {
    const row = clamp(down.start + k, 0, height - 1) * width
    let along = 0
    for (let j = 0; j < across.weights.length; j++)
      along += across.weights[j] * data[row + clamp(across.start + j, 0, width - 1)]
    sum += down.weights[k] * along
  }
  return sum
}

/** Within bounds; what is no number (a pixel of the horizon) becomes the least. */
function clamp(value: number, least: number, most: number): number {
  return value > least ? Math.min(most, value) : least
}
