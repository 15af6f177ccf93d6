import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { nccOfSums, residualOfSums, stopsOfSums, sumPair, weightedNcc } from '../../src/match/ncc.js'
import { normal, random, texturedWall, wallPlane } from '../synthetic.js'
import { compare } from './ncc.reference.js'

const workspace = new Workspace()

const RECT = { x: 0, y: 0, w: 24, h: 20 }
const wall = texturedWall(5)
const target = wallPlane(wall, RECT, { noise: 0.02, start: 1 }).data
const donor = wallPlane(wall, RECT, { dx: 0.6, dy: 0.2, stops: -0.7, noise: 0.02, start: 2 }).data
const all = new Float32Array(target.length).fill(1)

describe('correlation on the surround', () => {
  test('equals the textbook at random sizes, levels, weights and validity, within 1e-5', () => {
    fc.assert(
      fc.property(
        fc.record({
          n: fc.integer({ min: 2, max: 400 }),
          level: fc.double({ min: -14, max: 14, noNaN: true }),
          light: fc.double({ min: -6, max: 6, noNaN: true }),
          texture: fc.double({ min: 0.01, max: 4, noNaN: true }),
          alike: fc.double({ min: -1, max: 1, noNaN: true }),
          masked: fc.double({ min: 0, max: 0.9, noNaN: true }),
          start: fc.integer(),
        }),
        ({ n, level, light, texture, alike, masked, start }) => {
          const even = random(start)
          const grain = normal(start ^ 0x5555)
          const a = new Float32Array(n)
          const b = new Float32Array(n)
          const weight = new Float32Array(n)
          const validity = new Uint8Array(n)
          for (let i = 0; i < n; i++) {
            const common = grain()
            a[i] = level + texture * common
            b[i] = level + light + texture * (alike * common + (1 - Math.abs(alike)) * grain())
            weight[i] = even() < masked ? 0 : even()
            validity[i] = even() < 0.8 ? 1 : 0
          }
          const effective = weight.map((w, i) => w * validity[i])
          // Two pixels always correlate to plus or minus one; the textbook itself needs a third to say more.
          if (effective.filter((w) => w > 0).length < 3) return
          const sums = sumPair(workspace, a, b, weight, validity)
          const wanted = compare(a, b, effective)
          if (!Number.isFinite(wanted.ncc)) return
          const ncc = nccOfSums(sums)
          expect(ncc).not.toBeNull()
          expect(Math.abs(ncc! - wanted.ncc)).toBeLessThan(1e-5)
          expect(Math.abs(stopsOfSums(sums)! - wanted.stops)).toBeLessThan(1e-5)
          expect(Math.abs(residualOfSums(sums)! - wanted.residual)).toBeLessThan(1e-5)
        },
      ),
      { seed: 8, numRuns: 400 },
    )
  })

  test('of a picture with itself is 1, with its negative -1', () => {
    expect(weightedNcc(workspace, target, target, all)).toBeCloseTo(1, 6)
    const negative = target.map((v) => -v)
    expect(weightedNcc(workspace, target, negative, all)).toBeCloseTo(-1, 6)
  })

  test('is the same whichever of the two is the target; stops change their sign', () => {
    const one = sumPair(workspace, target, donor, all)
    const other = sumPair(workspace, donor, target, all)
    expect(nccOfSums(other)).toBeCloseTo(nccOfSums(one)!, 9)
    expect(stopsOfSums(other)).toBeCloseTo(-stopsOfSums(one)!, 9)
    expect(residualOfSums(other)).toBeCloseTo(residualOfSums(one)!, 6)
  })

  test('is left alone by light: half a stop changes stops by 0.5 and ncc by nothing', () => {
    fc.assert(
      fc.property(fc.double({ min: -8, max: 8, noNaN: true }), (stops) => {
        const lit = donor.map((v) => v + stops)
        const before = sumPair(workspace, target, donor, all)
        const after = sumPair(workspace, target, lit, all)
        expect(Math.abs(nccOfSums(after)! - nccOfSums(before)!)).toBeLessThan(1e-5)
        expect(Math.abs(stopsOfSums(before)! - stopsOfSums(after)! - stops)).toBeLessThan(1e-5)
      }),
      { seed: 9 },
    )
  })

  test('ten times all weights is the same correlation', () => {
    const ten = all.map((w) => 10 * w)
    expect(weightedNcc(workspace, target, donor, ten)).toBeCloseTo(
      weightedNcc(workspace, target, donor, all)!,
      7,
    )
  })

  test('does not hear of pixels without weight or validity, NaN and infinity among them', () => {
    const weight = all.slice()
    const validity = new Uint8Array(all.length).fill(1)
    const ill = donor.slice()
    for (const [i, bad] of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY].entries()) {
      ill[i] = bad
      weight[i] = 0
      ill[100 + i] = bad
      validity[100 + i] = 0
    }
    const clean = all.map((w, i) => (weight[i] === 0 || validity[i] === 0 ? 0 : w))
    expect(nccOfSums(sumPair(workspace, target, ill, weight, validity))).toBeCloseTo(
      compare(target, donor, clean).ncc,
      6,
    )
  })

  test('leaves both pictures and the weights as they were', () => {
    const copies = [target, donor, all].map((a) => a.slice())
    sumPair(workspace, target, donor, all)
    expect([target, donor, all]).toEqual(copies)
  })
})

describe('a surround that says nothing', () => {
  const textured = (level: number) => Float32Array.from({ length: 64 }, (_, i) => level + Math.sin(i))
  const ones = new Float32Array(64).fill(1)

  test.each([
    { title: 'is flat in the donor', a: textured(-3), b: new Float32Array(64).fill(-3), w: ones },
    { title: 'is flat in the target', a: new Float32Array(64).fill(7.1), b: textured(0), w: ones },
    { title: 'is flat in both', a: new Float32Array(64).fill(2), b: new Float32Array(64).fill(2), w: ones },
    { title: 'has no valid pixel', a: textured(0), b: textured(0), w: new Float32Array(64) },
    {
      title: 'has one valid pixel',
      a: textured(0),
      b: textured(0),
      w: ones.map((_, i) => (i === 5 ? 1 : 0)),
    },
    {
      title: 'differs by rounding alone',
      a: ones.map((_, i) => 13 + (i % 2) * 1e-6),
      b: textured(0),
      w: ones,
    },
    { title: 'is denormal', a: ones.map((_, i) => i * 1e-44), b: textured(0), w: ones },
    { title: 'has no pixels', a: new Float32Array(0), b: new Float32Array(0), w: new Float32Array(0) },
  ])('because it $title has no correlation, not 0 and not a lucky 1', ({ a, b, w }) => {
    expect(weightedNcc(workspace, a, b, w)).toBeNull()
  })

  test('because nothing is valid has no stops and no residual either', () => {
    const sums = sumPair(workspace, target, donor, new Float32Array(target.length))
    expect([nccOfSums(sums), stopsOfSums(sums), residualOfSums(sums)]).toEqual([null, null, null])
  })

  test('faint texture on a high level is still texture', () => {
    // 0.01 stops of texture at 13 stops: the naive one-pass variance in float32 would be rounding alone.
    const faint = Float32Array.from({ length: 400 }, (_, i) => 13 + 0.01 * Math.sin(i * 1.7))
    expect(weightedNcc(workspace, faint, faint, new Float32Array(400).fill(1))).toBeCloseTo(1, 5)
  })
})

test('no NaN and no infinity leaves, whatever comes in', () => {
  const hostile = fc.oneof(
    { weight: 4, arbitrary: fc.float({ min: -20, max: 20, noNaN: true }) },
    fc.constantFrom(
      0,
      -0,
      1e-45,
      -1e-45,
      1.1754943508222875e-38,
      3.4028234663852886e38,
      -3.4028234663852886e38,
    ),
    fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY),
  )
  const pixel = fc.tuple(hostile, hostile, fc.constantFrom(0, 1, 0.3, 1e-30), fc.constantFrom(0, 1))
  fc.assert(
    fc.property(fc.array(pixel, { maxLength: 40 }), (pixels) => {
      const [a, b, w] = [0, 1, 2].map((k) => Float32Array.from(pixels, (p) => p[k]))
      const sums = sumPair(
        workspace,
        a,
        b,
        w,
        Uint8Array.from(pixels, (p) => p[3]),
      )
      const ncc = nccOfSums(sums)
      for (const value of [ncc, stopsOfSums(sums), residualOfSums(sums)])
        expect(value === null || Number.isFinite(value)).toBe(true)
      if (ncc !== null) expect(Math.abs(ncc)).toBeLessThanOrEqual(1)
    }),
    { seed: 10, numRuns: 1500 },
  )
})
