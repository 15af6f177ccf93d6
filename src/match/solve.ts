// Small systems of linear equations.

/**
 * Solves a symmetric, positive definite system by the factors of Cholesky (G. Golub, C. Van Loan, Matrix Computations,
 * section 4.2), and inverts its matrix.
 *
 * @param matrix upper triangle, row by row, `stride` per row; left as it is
 * @returns null where it is not positive definite
 */
export function solveSymmetric(
  matrix: Readonly<Float64Array>,
  right: Readonly<Float64Array>,
  n: number,
  stride: number,
): { readonly solution: Float64Array; readonly inverse: Float64Array } | null {
  const lower = factorOf(matrix, n, stride)
  if (lower === null) return null
  const inverse = new Float64Array(n * n)
  for (let c = 0; c < n; c++) inverse.set(columnOfInverse(lower, c, n), c * n)
  return { solution: solveFactored(lower, right, n), inverse }
}

/** The lower factor of a matrix as `solveSymmetric` takes it, row by row; null where it is not positive definite. */
export function factorOf(matrix: Readonly<Float64Array>, n: number, stride: number): Float64Array | null {
  const lower = new Float64Array(n * n)
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[j * stride + i]
      for (let k = 0; k < j; k++) sum -= lower[i * n + k] * lower[j * n + k]
      if (i === j) {
        if (!(sum > 0)) return null
        lower[i * n + i] = Math.sqrt(sum)
      } else lower[i * n + j] = sum / lower[j * n + j]
    }
  }
  return lower
}

/** The solution for one right side, of a matrix whose lower factor is known. */
export function solveFactored(
  lower: Readonly<Float64Array>,
  right: Readonly<Float64Array>,
  n: number,
): Float64Array {
  const out = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    let sum = right[i]
    for (let k = 0; k < i; k++) sum -= lower[i * n + k] * out[k]
    out[i] = sum / lower[i * n + i]
  }
  for (let i = n - 1; i >= 0; i--) {
    let sum = out[i]
    for (let k = i + 1; k < n; k++) sum -= lower[k * n + i] * out[k]
    out[i] = sum / lower[i * n + i]
  }
  return out
}

/** A column, and so a row, of the inverse of a matrix whose lower factor is known. */
export function columnOfInverse(lower: Readonly<Float64Array>, column: number, n: number): Float64Array {
  const unit = new Float64Array(n)
  unit[column] = 1
  return solveFactored(lower, unit, n)
}
