// The smooth ratio of two pictures of one surface, where grain would drown the ratio of their pixels.
// In a window it is the least-squares factor that turns the quiet picture into the other, with a prior that it is 1: where
// there is little light there is little evidence, and the answer goes to 1 instead of exploding. What such a mean cuts off
// a shadow's edges is put back by lifting once more from what the first answer left over: J. W. Tukey's twicing
// (Exploratory Data Analysis, 1977; W. Stuetzle, Y. Mittal, 1979: the bias falls from second to fourth order).

/** How far from 1 ratios lie, as a standard deviation: a stop either way. */
const PRIOR_RATIO = 1
/** A ratio below this is no shadow but a hole in the light; 8 stops. */
const LEAST_RATIO = 2 ** -8

/** Twicing: one mean, and one of what it left over. More only lets grain back in. */
const ROUNDS = 2

/** Scratch that estimates of one size share. */
export interface RatioScratch {
  readonly a: Float32Array
  readonly b: Float32Array
  readonly c: Float32Array
  readonly d: Float32Array
}

export function ratioScratch(length: number): RatioScratch {
  const make = () => new Float32Array(length)
  return { a: make(), b: make(), c: make(), d: make() }
}

/**
 * The ratio at one window size.
 *
 * @param donor  one channel of linear light
 * @param quiet  the same surface in its quiet state, in the same light
 * @param trust  0 to 1 per pixel; 0 leaves it out
 * @param noise  variance of the donor's grain, linear light squared, per pixel
 * @param radius of three box blurs, which together are near a Gaussian of sigma sqrt(r (r + 1)) pixels
 * @param out    receives donor over quiet
 */
export function ratioAt(
  donor: Readonly<Float32Array>,
  quiet: Readonly<Float32Array>,
  trust: Readonly<Float32Array>,
  noise: Readonly<Float32Array>,
  width: number,
  radius: number,
  scratch: RatioScratch,
  out: Float32Array,
): void {
  const { d } = scratch
  out.fill(1)
  for (let round = 0; round < ROUNDS; round++) {
    // The quiet state under the light that is known so far; what of the donor it does not explain is lifted next.
    for (let i = 0; i < d.length; i++) d[i] = out[i] * quiet[i]
    refine(donor, d, trust, noise, width, radius, scratch, out)
  }
}

/** Multiplies `out` by the least-squares factor in each window. */
function refine(
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
    // The prior speaks of the whole ratio, not of the factor that is still to come.
    const r = out[i]
    out[i] = Math.max(LEAST_RATIO, (r * (a[i] + lambda * r)) / (b[i] + lambda * r * r))
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
