// Who stands across a border is no light. What differs from the target by light alone lies near a low-order surface all round;
// what lies far from it, by the spread that most of the border has, is an outlier.
// Robust regression by iterated weights, bisquare: A. E. Beaton, J. W. Tukey, Technometrics 1974.
import { MAD_TO_SIGMA, select } from '../../match/selection.js'
import { solveSymmetric } from '../../match/solve.js'
import { VISIBLE_STOPS } from '../../match/thresholds.js'
import { dilate } from '../../region/region.js'
import type { BorderCells } from './border-cells.js'

/** Terms of a surface of second order. */
const TERMS = 6
const ROUNDS = 10
/** From so many sigma on a value has no weight, which costs a normal distribution 5 per cent. */
const BISQUARE = 4.685
/** An outlier is further away than this many sigma, and than what nobody sees. */
const OUTLIER_SIGMA = 4
/** Keeps a border that lies on one side only from bending where nothing is seen. */
const RIDGE = 1e-3

/** The cells, of no weight where somebody stands in one or next to it. */
export function agreeingCells(cells: BorderCells): BorderCells {
  const { columns, rows, weight, stops } = cells
  const told: number[] = []
  for (let k = 0; k < weight.length; k++) if (weight[k]! > 0) told.push(k)
  const residual = stops.map((s) => Float64Array.from(told, (k) => s[k]!))
  const basis = told.map((k) =>
    termsAt((2 * (k % columns)) / columns - 1, (2 * Math.floor(k / columns)) / rows - 1),
  )
  // The light is matched already, so that the first guess is none.
  let sigma = residual.map(spreadOf)
  for (let round = 0; round < ROUNDS; round++) {
    const trust = told.map((k, j) => {
      const u = Math.max(...residual.map((r, c) => Math.abs(r[j]!) / (BISQUARE * sigma[c]!)))
      return u < 1 ? weight[k]! * (1 - u * u) ** 2 : 0
    })
    for (let c = 0; c < stops.length; c++) {
      const surface = fitted(basis, trust, (j) => stops[c]![told[j]!]!)
      if (surface === null) continue
      for (let j = 0; j < told.length; j++)
        residual[c]![j] = stops[c]![told[j]!]! - basis[j]!.reduce((sum, b, t) => sum + b * surface[t]!, 0)
    }
    sigma = residual.map(spreadOf)
  }
  const outliers = new Uint8Array(weight.length)
  for (const [j, k] of told.entries()) {
    const isFar = residual.some(
      (r, c) => Math.abs(r[j]!) > Math.max(VISIBLE_STOPS, OUTLIER_SIGMA * sigma[c]!),
    )
    outliers[k] = isFar ? 1 : 0
  }
  // Somebody's edge is soft, and covers a part of the cells beside.
  const near = dilate(outliers, columns, rows, 1)
  return { ...cells, weight: weight.map((w, k) => (near[k] === 1 ? 0 : w)) }
}

function termsAt(x: number, y: number): number[] {
  return [1, x, y, x * x, x * y, y * y]
}

/** About 0. */
function spreadOf(values: Readonly<Float64Array>): number {
  const sizes = Float32Array.from(values, Math.abs)
  return Math.max(1e-6, sizes.length > 0 ? MAD_TO_SIGMA * select(sizes, sizes.length >> 1) : 0)
}

function fitted(
  basis: readonly (readonly number[])[],
  trust: readonly number[],
  value: (j: number) => number,
): Float64Array | null {
  const matrix = new Float64Array(TERMS * TERMS)
  const right = new Float64Array(TERMS)
  let total = 0
  for (let j = 0; j < basis.length; j++) {
    const w = trust[j]!
    if (w === 0) continue
    total += w
    const b = basis[j]!
    const v = w * value(j)
    for (let s = 0; s < TERMS; s++) {
      right[s]! += b[s]! * v
      for (let t = s; t < TERMS; t++) matrix[s * TERMS + t]! += w * b[s]! * b[t]!
    }
  }
  for (let t = 1; t < TERMS; t++) matrix[t * TERMS + t]! += RIDGE * total
  return solveSymmetric(matrix, right, TERMS, TERMS)?.solution ?? null
}
