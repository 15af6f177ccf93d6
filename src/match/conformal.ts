// How far off a prediction may be, from how far off it was on cases whose truth is known. V. Vovk, A. Gammerman, G. Shafer,
// Algorithmic Learning in a Random World (2005); split by folds after J. Lei et al., Distribution-Free Predictive
// Inference for Regression (JASA 2018); weights after R. Tibshirani et al., Conformal Prediction Under Covariate Shift (2019).

/** Values that were observed together, on one case: they share its weight. */
export type Case = readonly number[]

/**
 * The value that a new case's stays below with the given confidence, if it is exchangeable with the cases seen, as far as
 * they weigh: their quantile at confidence * (n + 1) / n of their weight n.
 *
 * @param confidence 0 to 1
 * @param weights    how much like the new case each is, 0 to 1; 1 for all if not given
 * @returns Infinity where there are too few cases to be so confident
 */
export function upperBound(
  cases: readonly Case[],
  confidence: number,
  weights: readonly number[] = cases.map(() => 1),
): number {
  const values = cases.flatMap((c, i) => c.map((value) => ({ value, weight: weights[i] / c.length })))
  const n = weightOf(cases, weights)
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

/** How many cases there are to be confident by: those that have any value, each as far as it weighs. */
export function weightOf(cases: readonly Case[], weights: readonly number[] = cases.map(() => 1)): number {
  return cases.reduce((sum, c, i) => sum + (c.length > 0 ? weights[i] : 0), 0)
}
