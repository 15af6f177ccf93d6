// How far off a prediction may be, from how far off it was on cases whose truth is known. V. Vovk, A. Gammerman, G. Shafer,
// Algorithmic Learning in a Random World (2005); split by folds after J. Lei et al., Distribution-Free Predictive
// Inference for Regression (JASA 2018).

/** Values that were observed together, on one case: they share a weight of 1. */
export type Case = readonly number[]

/**
 * The value that a new case's stays below with the given confidence, if it is exchangeable with the cases seen: their
 * quantile at confidence * (n + 1) / n, each case's values sharing its weight.
 *
 * @param confidence 0 to 1
 * @returns Infinity where there are too few cases to be so confident
 */
export function upperBound(cases: readonly Case[], confidence: number): number {
  const values = cases.flatMap((c) => c.map((value) => ({ value, weight: 1 / c.length })))
  const n = cases.filter((c) => c.length > 0).length
  const wanted = confidence * (n + 1)
  if (n === 0 || wanted > n + 1e-9) return Number.POSITIVE_INFINITY
  values.sort((a, b) => a.value - b.value)
  let sum = 0
  for (const { value, weight } of values) {
    sum += weight
    if (sum >= wanted - 1e-9) return value
  }
  return values[values.length - 1].value
}

/** As `upperBound`, from below; -Infinity where there are too few. */
export function lowerBound(cases: readonly Case[], confidence: number): number {
  return -upperBound(
    cases.map((c) => c.map((v) => -v)),
    confidence,
  )
}
