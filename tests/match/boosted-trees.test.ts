import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { growTrees, type TreesSetup } from '../../src/match/boosted-trees.js'
import { normal, randomFrom } from '../random.js'

const SETUP: TreesSetup = { rising: [1], trees: 200, depth: 3, rate: 0.2, minLeaf: 1 }

describe('trees that can only rise', () => {
  // Reference: scikit-learn's IsotonicRegression (fixtures/isotonic/make.py). With one feature and every sample its own leaf,
  // least squares that can only rise have that one answer.
  test('come to the isotonic fit where they have one feature and are many', () => {
    const { x, y, fit } = JSON.parse(
      readFileSync(new URL('../../fixtures/isotonic/isotonic.json', import.meta.url), 'utf8'),
    ) as { x: number[]; y: number[]; fit: number[] }
    const model = growTrees(Float32Array.from(x), Float64Array.from(y), SETUP)
    for (const [i, value] of x.entries())
      expect(Math.abs(model.predict(Float32Array.of(value)) - fit[i])).toBeLessThan(0.02)
  })

  test('never fall as a rising feature grows, whatever the other features and the noise say', () => {
    const random = randomFrom('rising')
    const n = 800
    const x = Float32Array.from({ length: 3 * n }, () => 4 * random())
    // Falls with the first feature over a third of its range, rises with the second, and the third goes either way.
    const y = Float64Array.from({ length: n }, (_, i) => {
      const [a, b, c] = x.subarray(3 * i)
      return Math.abs(a - 1.3) + 0.5 * b + Math.sin(3 * c) + 0.3 * normal(random)
    })
    const model = growTrees(x, y, { rising: [1, 1, 0], trees: 60, depth: 3, rate: 0.15, minLeaf: 10 })
    let up = 0
    for (let i = 0; i < 300; i++) {
      const at = Float32Array.from({ length: 3 }, () => 4 * random())
      for (const f of [0, 1]) {
        const higher = at.slice()
        higher[f] = at[f] + (4 - at[f]) * random()
        const rise = model.predict(higher) - model.predict(at)
        expect(rise).toBeGreaterThanOrEqual(-1e-9)
        if (rise > 0.05) up++
      }
    }
    expect(up).toBeGreaterThan(100)
  })

  test('follow what goes either way where they are let', () => {
    const random = randomFrom('either')
    const x = Float32Array.from({ length: 600 }, () => 6 * random())
    const y = Float64Array.from(x, (v) => Math.sin(v))
    const model = growTrees(x, y, { ...SETUP, rising: [0], minLeaf: 5 })
    for (const v of [0.5, 1.6, 3, 4.7, 5.5])
      expect(Math.abs(model.predict(Float32Array.of(v)) - Math.sin(v))).toBeLessThan(0.15)
  })

  test('say the mean of what they were shown where no feature tells anything apart', () => {
    const model = growTrees(
      new Float32Array(40).fill(2),
      Float64Array.from({ length: 40 }, (_, i) => i % 2),
      SETUP,
    )
    expect(model.predict(Float32Array.of(7))).toBeCloseTo(0.5, 9)
  })
})
