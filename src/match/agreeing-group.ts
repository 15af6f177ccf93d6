// The largest group of samples that agree: the shortest interval that holds a given share of them is the "shorth" of D. F. Andrews et
// al., Robust Estimates of Location (1972), generalised from one half; differs: a smaller share, since passers-by may hold most.

/** Share of the samples whose shortest interval is taken as the agreeing group: more than any one passer-by's stay. */
export const GROUP_SHARE = 0.3
/** Length of that shortest interval for normally distributed samples, in sigma: 2 * quantile(0.5 + 0.15). */
export const GROUP_LENGTH_SIGMA = 0.7706
/** Samples within this many sigma of the group's middle belong to it. */
export const GROUP_WIDTH_SIGMA = 3.5
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
