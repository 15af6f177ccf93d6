// The clean plate: per pixel, the value that the largest agreeing group of aligned, light-matched frames shows.
// The shortest interval that holds a given share of the samples is the "shorth" of D. F. Andrews et al., Robust
// Estimates of Location (1972), generalised from one half; differs: a smaller share, since passers-by may hold most.

import { bytes, floats, integers, kernels } from '../kernels/memory.js'
import { atOnce, type Steps } from '../turns.js'

/** Share of the samples whose shortest interval is taken as the agreeing group: more than any one passer-by's stay. */
const GROUP_SHARE = 0.3
/** Length of that shortest interval for normally distributed samples, in sigma: 2 * quantile(0.5 + 0.15). */
const GROUP_LENGTH_SIGMA = 0.7706
/** Samples within this many sigma of the group's middle belong to it. */
const GROUP_WIDTH_SIGMA = 3.5
/** Pixels that are sorted in one go: their samples stay near the processor. */
const COLUMNS = 128
/** Fewer samples than this show no agreement. */
const MIN_SAMPLES = 3

export interface CleanPlate {
  /** log2 luminance over the window. */
  readonly level: Float32Array
  /** How far agreeing frames differ from it, stops (standard deviation), over the window. */
  readonly spread: Float32Array
  /** Share of the frames that agree, 0 to 1; 0 where too few frames show the pixel. */
  readonly support: Float32Array
}

export interface AlignedSample {
  /** log2 luminance over the window, moved onto the reference. */
  readonly aligned: Readonly<Float32Array>
  /** INVALID, VALID or CLIPPED. */
  readonly validity: Readonly<Uint8Array>
  /** Added to `aligned` to match the common light, stops. */
  readonly exposure: number
}

/**
 * @param samples aligned frames, all over the same window of `length` pixels
 * @param least   standard deviation below which frames are not told apart, stops: see `leastSpread`
 */
export function cleanPlateOf(samples: readonly AlignedSample[], length: number, least = 0): CleanPlate {
  return atOnce(cleanPlateSteps(samples, length, least))
}

/** As `cleanPlateOf`, a few pixels at a time. */
export function* cleanPlateSteps(
  samples: readonly AlignedSample[],
  length: number,
  least = 0,
): Steps<CleanPlate> {
  const level = new Float32Array(length)
  const spread = new Float32Array(length)
  const support = new Float32Array(length)
  const group = new Int32Array(2)
  const n = samples.length
  const rows = floats('rows', n * COLUMNS)
  const validities = bytes('row validities', n * COLUMNS)
  const lights = floats('lights', n)
  for (const [k, { exposure }] of samples.entries()) lights[k] = exposure
  const four = floats('four', 4 * n).byteOffset
  const sorted = floats('sorted', n * COLUMNS)
  const seen = integers('seen', COLUMNS)
  for (let from = 0; from < length; from += COLUMNS) {
    yield
    const columns = Math.min(COLUMNS, length - from)
    for (const [k, { aligned, validity }] of samples.entries()) {
      rows.set(aligned.subarray(from, from + columns), k * COLUMNS)
      validities.set(validity.subarray(from, from + columns), k * COLUMNS)
    }
    kernels.sortColumns(
      rows.byteOffset,
      validities.byteOffset,
      lights.byteOffset,
      COLUMNS,
      n,
      four,
      sorted.byteOffset,
      seen.byteOffset,
    )
    for (let c = 0, i = from; c < columns; c++, i++) {
      const values = sorted.subarray(c * n, c * n + seen[c])
      if (values.length < MIN_SAMPLES) {
        level[i] = values.length > 0 ? values[0] : 0
        continue
      }
      agreeingGroup(values, group, least)
      const [low, high] = group
      level[i] = mean(values, low, high)
      spread[i] = deviation(values, low, high, level[i])
      support[i] = (high - low) / values.length
    }
  }
  return { level, spread, support }
}

/**
 * The largest group of samples that agree.
 *
 * @param sorted at least two samples, ascending
 * @param bounds receives the first sample of the group and the one after its last
 * @param least  sigma of the group at least: frames that repeat each other to the last bit are no tighter a group
 */
export function agreeingGroup(sorted: Readonly<Float32Array>, bounds: Int32Array, least = 0): void {
  const n = sorted.length
  const size = Math.max(2, Math.ceil(GROUP_SHARE * n))
  let from = 0
  let shortest = Number.POSITIVE_INFINITY
  for (let a = 0; a + size <= n; a++) {
    const span = sorted[a + size - 1] - sorted[a]
    if (span < shortest) {
      shortest = span
      from = a
    }
  }
  const sigma = Math.max(least, shortest / GROUP_LENGTH_SIGMA)
  // A passer-by who stood still agrees with himself as closely as the wall does: of the groups two sigma wide the one
  // with the most samples is meant. No wider, or it would reach for the nearest passers-by.
  let to = from + size
  for (let a = 0, b = 0; a < n; a++) {
    while (b < n && sorted[b] - sorted[a] <= 2 * sigma) b++
    if (b - a > to - from) {
      from = a
      to = b
    }
  }
  const middle = mean(sorted, from, to)
  let low = from
  let high = to
  while (low > 0 && sorted[low - 1] >= middle - GROUP_WIDTH_SIGMA * sigma) low--
  while (high < n && sorted[high] <= middle + GROUP_WIDTH_SIGMA * sigma) high++
  bounds[0] = low
  bounds[1] = high
}

/** Mean of sorted[from] up to, not including, sorted[to]. */
export function mean(sorted: Readonly<Float32Array>, from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += sorted[i]
  return sum / (to - from)
}

function deviation(sorted: Float32Array, from: number, to: number, middle: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += (sorted[i] - middle) ** 2
  return Math.sqrt(sum / (to - from))
}
