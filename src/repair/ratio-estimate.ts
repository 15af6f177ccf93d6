// The smooth ratio of two pictures of one surface, where grain would drown the ratio of their pixels.
// In a window it is the least-squares factor that turns the quiet picture into the other, with a prior that it is 1: where
// there is little light there is little evidence, and the answer goes to 1 instead of exploding. The window grows per
// pixel as long as the answers agree within what grain allows: V. Katkovnik, A New Method for Varying Adaptive Bandwidth
// Selection (IEEE TSP 1999), the intersection of confidence intervals; soft shadows get wide windows, hard edges stay.

/** Window sizes: radius r of three box blurs, which together are near a Gaussian of sigma sqrt(r (r + 1)) pixels. */
export const SCALES = [1, 2, 4, 8] as const
/** Answers of two windows agree while they differ by less than so many standard errors. */
const AGREE_SIGMA = 1.5
/**
 * A wider window must leave at most this share of the error: white grain halves from one scale to the next, but coding
 * noise in blocks does not, and then a wider window only blurs the shadow's edge.
 */
const WORTH_WIDENING = 0.75
/** How far from 1 ratios lie, as a standard deviation: a stop either way. */
const PRIOR_RATIO = 1
/** A ratio below this is no shadow but a hole in the light; 8 stops. */
const LEAST_RATIO = 2 ** -8

/** Scratch that estimates of one size share. */
export interface RatioScratch {
  readonly a: Float32Array
  readonly b: Float32Array
  readonly c: Float32Array
}

export function ratioScratch(length: number): RatioScratch {
  const make = () => new Float32Array(length)
  return { a: make(), b: make(), c: make() }
}

/**
 * The ratio at one window size.
 *
 * @param donor  one channel of linear light
 * @param quiet  the same surface in its quiet state, in the same light
 * @param trust  0 to 1 per pixel; 0 leaves it out
 * @param noise  variance of the donor's grain, linear light squared, per pixel
 * @param out    receives donor over quiet
 */
export function ratioAt(
  donor: Readonly<Float32Array>,
  quiet: Readonly<Float32Array>,
  trust: Readonly<Float32Array>,
  noise: Readonly<Float32Array>,
  width: number,
  radius: number,
  { a, b, c }: RatioScratch,
  out: Float32Array,
): void {
  for (let i = 0; i < a.length; i++) {
    const w = trust[i]
    a[i] = w > 0 ? w * quiet[i] * donor[i] : 0
    b[i] = w > 0 ? w * quiet[i] * quiet[i] : 0
  }
  blur(a, width, radius, c)
  blur(b, width, radius, c)
  // As many independent pixels as a Gaussian window holds.
  const pixels = 4 * Math.PI * radius * (radius + 1)
  const prior = 1 / (pixels * PRIOR_RATIO * PRIOR_RATIO)
  for (let i = 0; i < out.length; i++) {
    const lambda = Math.max(prior * noise[i], 1e-20)
    out[i] = Math.max(LEAST_RATIO, (a[i] + lambda) / (b[i] + lambda))
  }
}

/**
 * Picks the widest window per pixel whose answer agrees with all narrower ones, and that is worth it.
 *
 * @param ratios one picture per scale, narrow first
 * @param errors relative standard error of each, at a ratio of 1
 * @param pick   receives the scale's index
 */
export function pickScales(
  ratios: readonly Readonly<Float32Array>[],
  errors: readonly Readonly<Float32Array>[],
  pick: Uint8Array,
): void {
  for (let i = 0; i < pick.length; i++) {
    let low = Number.NEGATIVE_INFINITY
    let high = Number.POSITIVE_INFINITY
    pick[i] = 0
    for (let k = 0; k < ratios.length; k++) {
      const r = ratios[k][i]
      // Photon noise shrinks with the root of the light, so that its share of a darker pixel grows.
      const reach = AGREE_SIGMA * errors[k][i] * Math.sqrt(Math.max(r, LEAST_RATIO))
      low = Math.max(low, r - reach)
      high = Math.min(high, r + reach)
      if (low > high) break
      if (errors[k][i] < WORTH_WIDENING * errors[pick[i]][i]) pick[i] = k
    }
  }
}

/**
 * Three box blurs of 2 r + 1 pixels, in place: near enough a Gaussian, as each box has variance r (r + 1) / 3
 * (W. M. Wells, Efficient Synthesis of Gaussian Filters by Cascaded Uniform Filters, PAMI 1986).
 */
export function blur(data: Float32Array, width: number, radius: number, scratch: Float32Array): void {
  const height = data.length / width
  for (let pass = 0; pass < 3; pass++) {
    boxRows(data, scratch, width, height, radius)
    boxColumns(scratch, data, width, height, radius)
  }
}

/** Edge pixels average what there is of their window. */
function boxRows(from: Float32Array, to: Float32Array, width: number, height: number, radius: number): void {
  for (let y = 0; y < height; y++) {
    const row = y * width
    let sum = 0
    for (let x = 0; x < Math.min(radius, width); x++) sum += from[row + x]
    for (let x = 0; x < width; x++) {
      if (x + radius < width) sum += from[row + x + radius]
      if (x - radius - 1 >= 0) sum -= from[row + x - radius - 1]
      to[row + x] = sum / (Math.min(width - 1, x + radius) - Math.max(0, x - radius) + 1)
    }
  }
}

/** Row by row, with one running sum per column, so that memory is read in its order. */
function boxColumns(
  from: Float32Array,
  to: Float32Array,
  width: number,
  height: number,
  radius: number,
): void {
  const sums = new Float64Array(width)
  for (let y = 0; y < Math.min(radius, height); y++) {
    for (let x = 0, i = y * width; x < width; x++, i++) sums[x] += from[i]
  }
  for (let y = 0; y < height; y++) {
    const enters = (y + radius) * width
    const leaves = (y - radius - 1) * width
    const n = Math.min(height - 1, y + radius) - Math.max(0, y - radius) + 1
    for (let x = 0, i = y * width; x < width; x++, i++) {
      if (y + radius < height) sums[x] += from[enters + x]
      if (y - radius - 1 >= 0) sums[x] -= from[leaves + x]
      to[i] = sums[x] / n
    }
  }
}
