// Eigenvectors of a symmetric 3 x 3 matrix.

/**
 * By Jacobi's rotations (G. Golub, C. Van Loan, Matrix Computations, section 8.5).
 *
 * @param matrix row by row; left as it is
 * @returns an orthonormal matrix, row by row, whose columns are the eigenvectors
 */
export function eigenOf(matrix: Readonly<Float64Array>): Float64Array {
  const a = matrix.slice()
  const v = Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1)
  for (let sweep = 0; sweep < 12; sweep++)
    for (const [p, q] of [
      [0, 1],
      [0, 2],
      [1, 2],
    ] as const) {
      const off = a[3 * p + q]!
      if (off === 0) continue
      const theta = Math.atan2(2 * off, a[4 * q]! - a[4 * p]!) / 2
      const [c, s] = [Math.cos(theta), Math.sin(theta)]
      for (let k = 0; k < 3; k++) {
        const [x, y] = [a[3 * k + p]!, a[3 * k + q]!]
        a[3 * k + p] = c * x - s * y
        a[3 * k + q] = s * x + c * y
      }
      for (let k = 0; k < 3; k++) {
        const [x, y] = [a[3 * p + k]!, a[3 * q + k]!]
        a[3 * p + k] = c * x - s * y
        a[3 * q + k] = s * x + c * y
      }
      for (let k = 0; k < 3; k++) {
        const [x, y] = [v[3 * k + p]!, v[3 * k + q]!]
        v[3 * k + p] = c * x - s * y
        v[3 * k + q] = s * x + c * y
      }
    }
  return v
}
