// Where on a surface a plate has more grain and where less.
import { plane } from '../../raster/plane.js'
import { boxBlur } from '../../raster/pyramid.js'
import { type Law, LEAST_SHARE } from './differences.js'
import { finite, type Pair } from './laid-frames.js'

/** Grain's place is told by its detail, what differs from the mean of so many pixels either way, over so many either way. */
const DETAIL_PX = 2
const LOCAL_PX = 4
/** No place has more than so many times the usual standard deviation. */
const MOST_AT_PLACE = 3
/** At one place it is at most so many times the usual variance: more is somebody who passes. */
const MOST_LOCAL = 16

/**
 * Where there is more of it and where less, beside what the light tells: a codec keeps it at edges and takes it from smooth
 * places. A factor of the standard deviation per pixel, whose mean square over the trusted pixels is 1.
 */
export function placesOf(
  pairs: readonly Pair[],
  { level, power }: Law,
  trusted: Readonly<Float32Array>,
): Float32Array {
  const [height, width] = pairs[0]![0].picture.shape
  const green = 1
  const local = pairs.map(([a, b]) => {
    const difference = plane(0, 0, width, height)
    for (let i = 0; i < difference.data.length; i++) {
      const [one, two] = [a.picture.data[3 * i + green]!, b.picture.data[3 * i + green]!]
      const sigma = level[green]! * Math.max(1e-4, (one + two) / 2) ** power[green]!
      difference.data[i] = sigma > 0 ? finite((one - two) / sigma) : 0
    }
    const mean = boxBlur(difference, DETAIL_PX).data
    for (let i = 0; i < mean.length; i++) mean[i] = (difference.data[i]! - mean[i]!) ** 2
    return boxBlur({ ...difference, data: mean }, LOCAL_PX).data
  })
  const seen: number[] = []
  for (let i = 0; i < trusted.length; i += 3)
    if (trusted[i]! > 0) for (const l of local) if (l[i]! > LEAST_SHARE) seen.push(l[i]!)
  const limit = MOST_LOCAL * (seen.sort((a, b) => a - b)[seen.length >> 1] ?? 0)
  const out = new Float32Array(trusted.length)
  let [sum, n] = [0, 0]
  for (let i = 0; i < out.length; i++) {
    let energy = 0
    for (const l of local) energy += Math.min(l[i]!, limit) / local.length
    out[i] = energy
    if (trusted[i]! > 0) {
      sum += energy
      n++
    }
  }
  const mean = n > 0 ? sum / n : 0
  // Running sums may end a hair below nothing.
  return out.map((v) => (mean > 0 ? Math.min(MOST_AT_PLACE, Math.sqrt(Math.max(0, v) / mean)) : 1))
}
