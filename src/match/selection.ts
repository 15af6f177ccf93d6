// Medians without sorting. C. A. R. Hoare, Algorithm 65: Find (1961), with the median of three as the pivot.

/**
 * Puts the k-th smallest sample where sorting would put it: none before it is larger, none after it smaller.
 *
 * @param values no NaN; reordered
 * @param k      0 to length - 1
 * @returns that sample
 */
export function select(values: Float32Array, k: number, length: number = values.length): number {
  let from = 0
  let to = length - 1
  while (from < to) {
    const middle = (from + to) >> 1
    if (values[middle] < values[from]) swap(values, middle, from)
    if (values[to] < values[from]) swap(values, to, from)
    if (values[to] < values[middle]) swap(values, to, middle)
    const pivot = values[middle]
    let i = from
    let j = to
    while (i <= j) {
      while (values[i] < pivot) i++
      while (values[j] > pivot) j--
      if (i <= j) swap(values, i++, j--)
    }
    if (k <= j) to = j
    else if (k >= i) from = i
    else break
  }
  return values[k]
}

/** Median and, over 0.6745, median absolute deviation: sigma of a normal distribution. `values` is used up. */
export function medianAndSigma(
  values: Float32Array,
  length: number = values.length,
): { median: number; sigma: number } {
  const median = select(values, length >> 1, length)
  for (let i = 0; i < length; i++) values[i] = Math.abs(values[i] - median)
  return { median, sigma: MAD_TO_SIGMA * select(values, length >> 1, length) }
}

/** MAD to standard deviation for a normal distribution. */
export const MAD_TO_SIGMA = 1.4826

/** The upper median of a few; 0 of none. */
export function middleValue(values: readonly number[]): number {
  return Float64Array.from(values).sort()[values.length >> 1] ?? 0
}

/** Puts a value among the first `length`, which are in order: dozens at most. */
export function insertInOrder(values: Float64Array, length: number, value: number): void {
  let at = length
  for (; at > 0 && values[at - 1] > value; at--) values[at] = values[at - 1]
  values[at] = value
}

/** Mean of the middle half: as robust as wanted against a passer-by, steadier than the median under grain. Reordered. */
export function middleMean(values: Float32Array, length: number = values.length): number {
  const from = length >> 2
  const to = Math.max(from + 1, length - from)
  select(values, from, length)
  const upper = values.subarray(from, length)
  select(upper, to - 1 - from)
  let sum = 0
  for (let i = from; i < to; i++) sum += values[i]
  return sum / (to - from)
}

function swap(values: Float32Array, i: number, j: number): void {
  const kept = values[i]
  values[i] = values[j]
  values[j] = kept
}
