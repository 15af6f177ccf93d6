// Against the same told one sample after the other in double precision, to the last bit: sums are added in that order.
import { describe, expect, test } from 'vitest'
import { cappedSquares, NORMAL_SUMS, normalEquations } from '../../src/kernels/correlate.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { normal, randomFrom } from '../random.js'

const workspace = new Workspace()
const TUKEY = 4.685

describe.each([0, 1, 2, 7, 1000])('of %i samples', (n) => {
  const random = randomFrom(`normal equations ${n}`)
  const made = (scale: number) => Float32Array.from({ length: n }, () => scale * normal(random))
  const [gradientX, gradientY] = [made(0.3), made(0.1)]
  // Somebody passes in a tenth of them.
  const residual = made(0.05).map((r) => (random() < 0.1 ? r + 2 : r))
  const weight = Float32Array.from({ length: n }, () => Math.floor(3 * random()) / 2)

  test('normal equations are those of the plain loop', () => {
    const [centre, flat, edge] = [0.013, 0.0025, 0.09]
    const plain = new Float64Array(NORMAL_SUMS)
    let counted = 0
    for (let i = 0; i < n; i++) {
      const r = residual[i] - centre
      const [gx, gy] = [gradientX[i], gradientY[i]]
      const variance = flat + edge * (gx * gx + gy * gy)
      const uu = (r * r) / (TUKEY * TUKEY * variance)
      if (uu >= 1) continue
      counted++
      const k = (1 - uu) * (1 - uu) * weight[i] * (flat / variance)
      const [kx, ky] = [k * gx, k * gy]
      for (const [s, v] of [kx * gx, kx * gy, ky * gy, kx, ky, k, kx * r, ky * r, k * r].entries())
        plain[s] += v
    }
    if (n === 1000) expect(counted).toBeLessThan(950)
    const sums = new Float64Array(NORMAL_SUMS)
    const under = { centre, flat, edge, tukey: TUKEY }
    normalEquations(workspace, { gradientX, gradientY, residual, weight }, under, sums)
    expect(sums).toEqual(plain)
  })

  test('squares are capped as in the plain loop', () => {
    const centre = Math.fround(0.02)
    let sum = 0
    for (let i = 0; i < n; i++) sum += Math.min(0.01, Math.fround(residual[i] - centre) ** 2)
    expect(cappedSquares(workspace, residual, centre, 0.01)).toBe(sum)
  })
})
