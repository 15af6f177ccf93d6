// The smooth ratio of two pictures of one surface, where grain would drown the ratio of their pixels.
// In a window it is the least-squares factor that turns the quiet picture into the other, with a prior that it is 1: where
// there is little light there is little evidence, and the answer goes to 1 instead of exploding. What such a mean cuts off
// a shadow's edges is put back by lifting once more from what the first answer left over: J. W. Tukey's twicing
// (Exploratory Data Analysis, 1977; W. Stuetzle, Y. Mittal, 1979: the bias falls from second to fourth order).
import { changing, doubles, floats, kernels, pointer } from '../../kernels/memory.js'

/** How far from 1 ratios lie, as a standard deviation: a stop either way. */
const PRIOR_RATIO = 1
/** A ratio below this is no shadow but a hole in the light; 8 stops. */
const MIN_RATIO = 2 ** -8

/** Twicing: one mean, and one of what it left over. More only lets grain back in. */
const ROUNDS = 2

/**
 * The ratio at one window size.
 *
 * @param donor  one channel of linear light
 * @param quiet  the same surface in its quiet state, in the same light
 * @param validity  0 to 1 per pixel; 0 leaves it out
 * @param noise  variance of the donor's grain, linear light squared, per pixel
 * @param radius of three box blurs, which together are near a Gaussian of sigma sqrt(r (r + 1)) pixels
 * @returns donor over quiet, in a buffer that lasts until the next ratio is asked for
 */
export function ratioAt(
  donor: Readonly<Float32Array>,
  quiet: Readonly<Float32Array>,
  validity: Readonly<Float32Array>,
  noise: Readonly<Float32Array>,
  width: number,
  radius: number,
): Float32Array {
  const { length } = donor
  const out = floats('ratio', length).fill(1)
  // As many independent pixels as a Gaussian window holds.
  const pixels = 4 * Math.PI * radius * (radius + 1)
  const prior = 1 / (pixels * PRIOR_RATIO * PRIOR_RATIO)
  const [d, q] = [pointer(donor, 'donor'), pointer(quiet, 'quiet')]
  const [t, n] = [pointer(validity, 'valid'), pointer(noise, 'noise')]
  const { a, b, other, sums } = blurRoom(length, width)
  for (let round = 0; round < ROUNDS; round++) {
    kernels.refineRatio(
      d,
      q,
      t,
      n,
      out.byteOffset,
      a,
      b,
      other,
      sums,
      width,
      length / width,
      radius,
      prior,
      MIN_RATIO,
    )
  }
  return out
}

/**
 * Three box blurs of 2 r + 1 pixels, in place: near enough a Gaussian, as each box has variance r (r + 1) / 3
 * (W. M. Wells, Efficient Synthesis of Gaussian Filters by Cascaded Uniform Filters, PAMI 1986). Edge pixels average what
 * there is of their window.
 */
export function blur(data: Float32Array, width: number, radius: number): void {
  const { other, sums } = blurRoom(data.length, width)
  changing(data, 'plane a', (at) => kernels.blur(at, other, sums, width, data.length / width, radius))
}

/** What blurring kernels work in: two planes to blur, one more, and running sums. */
export function blurRoom(
  length: number,
  width: number,
): { a: number; b: number; other: number; sums: number } {
  const plane = (name: string) => floats(name, length).byteOffset
  const sums = doubles('sums', Math.max(width, length / width) + 4).byteOffset
  return { a: plane('plane a'), b: plane('plane b'), other: plane('plane c'), sums }
}
