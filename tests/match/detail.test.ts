// The compiled loops against straight double-precision ones.
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { softSign } from '../../src/kernels/detail.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { correlationOf, type DetailLevel, detailOf, levelOf } from '../../src/match/detail.js'
import { differenceAt, prepareReference } from '../../src/match/reference.js'
import { CUBIC } from '../../src/raster/filters.js'
import { type Plane, plane } from '../../src/raster/plane.js'
import { normal } from '../synthetic.js'

const workspace = new Workspace()

function grainy(x: number, y: number, w: number, h: number, seed: number): Plane {
  const out = plane(x, y, w, h)
  const grain = normal(seed)
  for (let i = 0; i < out.data.length; i++) out.data[i] = -3 + 0.4 * grain()
  return out
}

function correlated(level: DetailLevel, donor: Plane, dx: number, dy: number): number {
  return workspace.within((scratch) => correlationOf(workspace, scratch, level, donor)(dx, dy))
}

const held = (v: number, most: number) => Math.min(Math.max(v, 0), most)

describe('detail of a picture', () => {
  test.each([
    [1, 1],
    [5, 3],
    [9, 9],
    [10, 30],
    [31, 17],
  ])('of %i x %i pixels is the binomial mean less the mean of 9 x 9, of what lies inside', (w, h) => {
    const picture = grainy(2, 3, w, h, 7 * w + h)
    const { data } = picture
    const found = detailOf(workspace, picture).data
    const k = [1, 4, 6, 4, 1]
    for (let y = 0; y < h; y++) {
      for (let x = 0; x < w; x++) {
        let near = 0
        for (let v = -2; v <= 2; v++)
          for (let u = -2; u <= 2; u++)
            near += (k[u + 2] * k[v + 2] * data[held(y + v, h - 1) * w + held(x + u, w - 1)]) / 256
        let light = 0
        let n = 0
        for (let v = Math.max(0, y - 4); v <= Math.min(h - 1, y + 4); v++)
          for (let u = Math.max(0, x - 4); u <= Math.min(w - 1, x + 4); u++, n++) light += data[v * w + u]
        expect(found[y * w + x]).toBeCloseTo(near - light / n, 5)
      }
    }
  })

  test('of a flat wall is nothing, at every level of light', () => {
    for (const level of [-11.9, -2.47, 0.1, 15.3]) {
      const flat = plane(0, 0, 40, 30)
      flat.data.fill(level)
      for (const v of detailOf(workspace, flat).data) expect(Math.abs(v)).toBeLessThan(1e-5)
    }
  })

  test('is bent to half where it is as strong as the knee, and keeps its sign', () => {
    const detail = Float32Array.of(0, 0.02, -0.02, 0.06, 1e9)
    softSign(workspace, detail, 0.02)
    expect([...detail].map((v) => Number(v.toFixed(6)))).toEqual([0, 0.5, -0.5, 0.75, 1])
  })
})

describe('correlation in whole pixels', () => {
  test('equals the textbook over what both pictures show, at every offset, size and weight', () => {
    fc.assert(
      fc.property(
        fc.record({
          w: fc.integer({ min: 2, max: 40 }),
          h: fc.integer({ min: 2, max: 30 }),
          cut: fc.integer({ min: -6, max: 6 }),
          dx: fc.integer({ min: -8, max: 8 }),
          dy: fc.integer({ min: -8, max: 8 }),
          seed: fc.integer({ min: 1, max: 1000 }),
          hidden: fc.double({ min: 0, max: 0.7, noNaN: true }),
        }),
        ({ w, h, cut, dx, dy, seed, hidden }) => {
          const reference = grainy(20, 10, w, h, seed)
          const donor = grainy(20 + cut, 10 - cut, w + 3, h + 2, seed + 1)
          const random = normal(seed + 2)
          const weight = Float32Array.from(reference.data, () => (Math.abs(random()) < 2 * hidden ? 0 : 1))
          const found = correlated(levelOf(reference, weight, 1), donor, dx, dy)
          // A. M. Pearson's coefficient, written out.
          const pairs: [number, number][] = []
          for (let y = 0, i = 0; y < h; y++) {
            for (let x = 0; x < w; x++, i++) {
              const u = x + reference.x - dx - donor.x
              const v = y + reference.y - dy - donor.y
              if (weight[i] === 0 || u < 0 || v < 0 || u >= donor.width || v >= donor.height) continue
              pairs.push([reference.data[i], donor.data[v * donor.width + u]])
            }
          }
          const mean = (k: 0 | 1) => pairs.reduce((sum, p) => sum + p[k], 0) / pairs.length
          const [mr, md] = [mean(0), mean(1)]
          const sum = (f: (r: number, d: number) => number) =>
            pairs.reduce((s, [r, d]) => s + f(r - mr, d - md), 0)
          const vr = sum((r) => r * r)
          const vd = sum((_, d) => d * d)
          if (pairs.length < 3 || vr < 1e-3 || vd < 1e-3) return
          expect(found).toBeCloseTo(sum((r, d) => r * d) / Math.sqrt(vr * vd), 4)
        },
      ),
      { numRuns: 300, seed: 5 },
    )
  })

  test('says nothing where the pictures do not meet, where nothing counts, and where one is flat', () => {
    const a = grainy(0, 0, 12, 12, 1)
    const all = new Float32Array(144).fill(1)
    expect(correlated(levelOf(a, all, 1), a, 12, 0)).toBe(-2)
    expect(correlated(levelOf(a, new Float32Array(144), 1), a, 0, 0)).toBe(-2)
    expect(correlated(levelOf(a, all, 1), plane(0, 0, 12, 12), 0, 0)).toBe(-2)
  })
})

describe('what differs at listed pixels', () => {
  test('is the cubic sum written out less the reference, with the edge repeated beyond the picture', () => {
    const reference = prepareReference(workspace, grainy(5, 5, 24, 20, 3), new Float32Array(480).fill(1), 2)
    const donor = grainy(4, 5, 25, 18, 4)
    const { low } = reference
    const out = new Float32Array(low.column.length)
    for (const [dx, dy] of [
      [0.3, -1.7],
      [0, 0],
      [2, 0.5],
      [-1.25, -2],
    ]) {
      differenceAt(workspace, reference, donor, dx, dy, out)
      for (let k = 0; k < out.length; k++) {
        const x = low.column[k] + low.x - donor.x - dx
        const y = low.row[k] + low.y - donor.y - dy
        let sum = 0
        for (let v = Math.floor(y) - 1; v <= Math.floor(y) + 2; v++) {
          for (let u = Math.floor(x) - 1; u <= Math.floor(x) + 2; u++) {
            const sample = donor.data[held(v, donor.height - 1) * donor.width + held(u, donor.width - 1)]
            sum += CUBIC.at(x - u) * CUBIC.at(y - v) * sample
          }
        }
        expect(out[k]).toBeCloseTo(sum - low.value[k], 4)
      }
    }
  })
})
