import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { BoostedTrees, type TreesSetup } from '../../src/match/boosted-trees.js'
import { normal, randomFrom } from '../random.js'
import { plainTrees } from './boosted-trees.reference.js'

const workspace = new Workspace()
const SETUP: TreesSetup = { rising: [1], trees: 200, depth: 3, rate: 0.2, minLeaf: 1 }

describe('trees that can only rise', () => {
  // Reference: scikit-learn's IsotonicRegression (fixtures/isotonic/make.py). With one feature and every sample its own leaf,
  // least squares that can only rise have that one answer.
  test('come to the isotonic fit where they have one feature and are many', () => {
    const { x, y, fit } = JSON.parse(
      readFileSync(new URL('../../fixtures/isotonic/isotonic.json', import.meta.url), 'utf8'),
    ) as { x: number[]; y: number[]; fit: number[] }
    const model = new BoostedTrees(workspace, Float32Array.from(x), Float64Array.from(y), SETUP)
    for (const [i, value] of x.entries())
      expect(Math.abs(model.predict(Float32Array.of(value))[0] - fit[i])).toBeLessThan(0.02)
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
    const model = new BoostedTrees(workspace, x, y, {
      rising: [1, 1, 0],
      trees: 60,
      depth: 3,
      rate: 0.15,
      minLeaf: 10,
    })
    let up = 0
    for (let i = 0; i < 300; i++) {
      const at = Float32Array.from({ length: 3 }, () => 4 * random())
      for (const f of [0, 1]) {
        const higher = at.slice()
        higher[f] = at[f] + (4 - at[f]) * random()
        const rise = model.predict(higher)[0] - model.predict(at)[0]
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
    const model = new BoostedTrees(workspace, x, y, { ...SETUP, rising: [0], minLeaf: 5 })
    for (const v of [0.5, 1.6, 3, 4.7, 5.5])
      expect(Math.abs(model.predict(Float32Array.of(v))[0] - Math.sin(v))).toBeLessThan(0.15)
  })

  test('say the mean of what they were shown where no feature tells anything apart', () => {
    const model = new BoostedTrees(
      workspace,
      new Float32Array(40).fill(2),
      Float64Array.from({ length: 40 }, (_, i) => i % 2),
      SETUP,
    )
    expect(model.predict(Float32Array.of(7))[0]).toBeCloseTo(0.5, 9)
  })

  test.each([
    {
      title: 'as a search grows them',
      rising: [1, 1, 1, 0],
      trees: 60,
      depth: 3,
      rate: 0.12,
      minLeaf: 30,
      n: 900,
    },
    {
      title: 'of few samples',
      rising: [1, 1, 1, 1, 1, 1],
      trees: 24,
      depth: 2,
      rate: 0.15,
      minLeaf: 6,
      n: 37,
    },
    { title: 'of one sample', rising: [0], trees: 3, depth: 1, rate: 0.5, minLeaf: 1, n: 1 },
    { title: 'deep ones', rising: [0, 1], trees: 10, depth: 6, rate: 0.7, minLeaf: 1, n: 300 },
  ] as const)('are those of the plain ones, to the last bit: $title', ({ n, ...setup }) => {
    const random = randomFrom(`trees of ${n}`)
    const features = setup.rising.length
    // Every other feature comes in a few values only, as what is the same for many donors does.
    const x = Float32Array.from({ length: n * features }, (_, i) =>
      i % 2 === 0 ? 3 * normal(random) : Math.round(3 * normal(random)),
    )
    const y = Float64Array.from({ length: n }, (_, i) => x[i * features] + normal(random))
    const plain = plainTrees(x, y, setup)
    const fresh = x.map((v) => v + 0.3 * normal(random))
    const samples = Float32Array.from([...x, ...fresh])
    const expected = Float64Array.from({ length: 2 * n }, (_, i) => plain(samples.subarray(i * features)))
    expect(new BoostedTrees(workspace, x, y, setup).predict(samples)).toEqual(expected)
  })
})
