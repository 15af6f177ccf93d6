// The clean plate: per pixel, the value that the largest agreeing group of aligned, light-matched frames shows.
// The shortest interval that holds a given share of the samples is the "shorth" of D. F. Andrews et al., Robust
// Estimates of Location (1972), generalised from one half; differs: a smaller share, since passers-by may hold most.

import { agreeingGroups, sortColumns } from '../kernels/sort.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
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
export function cleanPlateOf(
  workspace: Workspace,
  samples: readonly AlignedSample[],
  length: number,
  least = 0,
): CleanPlate {
  return atOnce(cleanPlateSteps(workspace, samples, length, least))
}

/** As `cleanPlateOf`, a few pixels at a time. */
export function* cleanPlateSteps(
  workspace: Workspace,
  samples: readonly AlignedSample[],
  length: number,
  least = 0,
): Steps<CleanPlate> {
  const [level, spread, support] = [0, 1, 2].map(() => new Float32Array(length))
  const agreement = {
    few: MIN_SAMPLES,
    share: GROUP_SHARE,
    lengthSigma: GROUP_LENGTH_SIGMA,
    widthSigma: GROUP_WIDTH_SIGMA,
    least,
  }
  for (let from = 0; from < length; from += COLUMNS) {
    yield
    workspace.within((scratch) => {
      const to = Math.min(from + COLUMNS, length)
      const { sorted, seen } = sortedColumns(workspace, scratch, samples, from, to)
      agreeingGroups(
        workspace,
        sorted,
        seen,
        agreement,
        level.subarray(from, to),
        spread.subarray(from, to),
        support.subarray(from, to),
      )
    })
  }
  return { level, spread, support }
}

/** Per pixel from `from` up to, not including, `to`: all its samples, ascending, and how many of them there are. */
function sortedColumns(
  workspace: Workspace,
  scratch: Scratch,
  samples: readonly AlignedSample[],
  from: number,
  to: number,
): { sorted: Float32Array; seen: Int32Array } {
  const n = samples.length
  const rows = scratch.floats(n * COLUMNS)
  const validities = scratch.bytes(n * COLUMNS)
  const exposures = scratch.floats(n)
  for (const [k, { aligned, validity, exposure }] of samples.entries()) {
    rows.set(aligned.subarray(from, to), k * COLUMNS)
    validities.set(validity.subarray(from, to), k * COLUMNS)
    exposures[k] = exposure
  }
  const sorted = scratch.floats(n * COLUMNS)
  const seen = scratch.integers(COLUMNS)
  sortColumns(workspace, rows, validities, exposures, COLUMNS, sorted, seen)
  return { sorted, seen }
}

/**
 * The largest group of samples that agree.
 *
 * @param sorted at least two samples, ascending, from `first` up to, not including, `end`
 * @param bounds receives the first sample of the group and the one after its last
 * @param least  sigma of the group at least: frames that repeat each other to the last bit are no tighter a group
 */
export function agreeingGroup(
  sorted: Readonly<Float32Array>,
  bounds: Int32Array,
  least = 0,
  first = 0,
  end = sorted.length,
): void {
  const size = Math.max(2, Math.ceil(GROUP_SHARE * (end - first)))
  let from = first
  let shortest = Number.POSITIVE_INFINITY
  for (let a = first; a + size <= end; a++) {
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
  const width = 2 * sigma
  for (let a = first, most = size; a + most < end; a++) {
    // A larger group begins here only where that many samples and one more lie within the width.
    while (a + most < end && sorted[a + most] - sorted[a] <= width) {
      most++
      from = a
      to = a + most
    }
  }
  const middle = mean(sorted, from, to)
  let low = from
  let high = to
  while (low > first && sorted[low - 1] >= middle - GROUP_WIDTH_SIGMA * sigma) low--
  while (high < end && sorted[high] <= middle + GROUP_WIDTH_SIGMA * sigma) high++
  bounds[0] = low
  bounds[1] = high
}

/** Mean of sorted[from] up to, not including, sorted[to]. */
export function mean(sorted: Readonly<Float32Array>, from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += sorted[i]
  return sum / (to - from)
}
