// What two donors' pictures differ by through grain alone, for what differs along the border of two pieces is counted in it. White grain is
// brought down by 3 x 3 means as far as their size has it; grain that a codec or a lens has made soft hangs together and is not.

import { MAD_TO_SIGMA, select } from '../../match/selection.js'

/** Variance of the difference of two pictures whose white grain of 1 was brought down by 3 x 3 means. */
const WHITE = 2 / 9
/** The most that grain comes to: it is the same all over the nine. What differs by more is no grain. */
const WHOLE = 2
/** Grain hangs together within a codec's blocks: so far on, pixels, it is another. Less in a small region. */
const LAG_PX = 16
/** Of a difference less the mean of those on either side, over its own: the variances of grain are 1 and twice a quarter. */
const OF_THREE = 1.5
/** Pixels that are looked at, and the least of them that tell. */
const MOST = 20_000
const LEAST = 200

/**
 * @param pictures donors' over a part `width` across, in units of their grain, after 3 x 3 means
 * @param dirty    of each donor, 1 where somebody stands
 * @returns variance, from white grain's to that of grain which hangs together all over
 */
export function grainApart(
  pictures: readonly Readonly<Float32Array>[],
  dirty: readonly Readonly<Uint8Array>[],
  width: number,
): number {
  const { length } = pictures[0]
  const height = length / width
  const lag = Math.max(1, Math.min(LAG_PX, Math.floor(Math.min(width, height) / 4)))
  const pairs = pictures.length - 1
  const step = Math.max(1, Math.ceil((pairs * length) / MOST))
  const values = new Float32Array(Math.ceil((pairs * length) / step))
  let n = 0
  for (let at = 0; at < pairs * length; at += step) {
    const pair = Math.floor(at / length)
    const k = at - pair * length
    const x = k % width
    if (x < lag || x >= width - lag) continue
    const [a, b] = [pictures[pair], pictures[pair + 1]]
    const [da, db] = [dirty[pair], dirty[pair + 1]]
    if (da[k] + db[k] + da[k - lag] + db[k - lag] + da[k + lag] + db[k + lag] > 0) continue
    const beside = (a[k - lag] - b[k - lag] + a[k + lag] - b[k + lag]) / 2
    values[n++] = Math.abs(a[k] - b[k] - beside)
  }
  if (n < LEAST) return WHITE
  const sigma = MAD_TO_SIGMA * select(values, n >> 1, n)
  return Math.min(WHOLE, Math.max(WHITE, sigma ** 2 / OF_THREE))
}
