// What a mean of several donors differs by inside a region: laws, and the same told straight, pixel by pixel.
import { expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { INVALID, VALID } from '../../../src/match/log-luminance.js'
import { displaySlope } from '../../../src/match/visible-error.js'
import { IDENTITY } from '../../../src/raster/transform.js'
import { RegionView } from '../../../src/search/hide/region-view.js'
import { stackOf } from '../../../src/search/hide/stack-shares.js'
import type { Registered } from '../../../src/search/register.js'
import { atOnce } from '../../../src/turns.js'
import { randomFrom } from '../../random.js'

const WINDOW = { x: 0, y: 0, w: 12, h: 10 }
const SIZE = WINDOW.w * WINDOW.h
const HOLE_STOPS = 1
const random = randomFrom('mean of donors')
const inside = Float32Array.from({ length: SIZE }, (_, i) => (i % WINDOW.w < 5 ? 0.25 + 0.75 * random() : 0))
const level = Float32Array.from({ length: SIZE }, () => -3 + random())

function viewOf(pictures: readonly Float32Array[], unseen: (frame: number, i: number) => boolean) {
  const frames = pictures.map((aligned, f): Registered => {
    const validity = Uint8Array.from(aligned, (_, i) => (unseen(f, i) ? INVALID : VALID))
    return { plate: 0, frame: f, pose: IDENTITY, aligned, validity, exposure: 0, held: true }
  })
  const spread = new Float32Array(SIZE).fill(0.01)
  const cleanPlate = {
    level,
    spread,
    scatter: new Float32Array(level.length),
    support: new Float32Array(SIZE).fill(1),
  }
  const mask = { inside, surround: inside.map((v) => (v > 0 ? 0 : 1)) }
  const view = new RegionView(
    new Workspace(),
    mask,
    frames,
    { cleanPlate, window: WINDOW, minSpread: 0.01 },
    spread,
  )
  atOnce(view.prepare(new Map(frames.map((f) => [f, new Uint8Array(SIZE).fill(1)]))))
  return view
}

const off = (by: () => number) => level.map((v) => v + by())

test('of one donor it is what that donor differs by, in whatever light, seen whole or in part', () => {
  const view = viewOf([off(() => 0), off(() => random() - 0.5)], (f, i) => f === 1 && i % 3 === 0)
  for (const stops of [0, 0.3, -1])
    expect(view.differenceOfMean(view.pictureOf(0), [{ frame: 1, weight: 1, stops }])).toBeCloseTo(
      view.differences(view.pictureOf(0), Int32Array.of(1), Float64Array.of(stops))[0],
      6,
    )
})

test('of two that are as far off to either side it is nothing', () => {
  const view = viewOf([off(() => 0), off(() => 0.2), off(() => -0.2)], () => false)
  const parts = [1, 2].map((frame) => ({ frame, weight: 0.5, stops: 0 }))
  expect(view.differenceOfMean(view.pictureOf(0), parts)).toBeLessThan(1e-9)
})

test('of several, each with holes of its own, it is what it is pixel by pixel', () => {
  const pictures = Array.from({ length: 5 }, () => off(() => random() - 0.5))
  const hole = (f: number, i: number) => ((f + 1) * (i + 7)) % 5 === 0 || i === 26
  const view = viewOf(pictures, hole)
  const weights = [0.4, 0.3, 0.2, 0.1]
  const parts = weights.map((weight, k) => ({ frame: k + 1, weight, stops: 0.1 * k }))
  let [sum, all] = [0, 0]
  for (let i = 0; i < SIZE; i++) {
    all += inside[i]
    const worth = inside[i] * displaySlope(level[i]) ** 2
    const seen = parts.filter(({ frame }) => !hole(frame, i))
    const weight = seen.reduce((s, p) => s + p.weight, 0)
    const mean = seen.reduce((s, p) => s + p.weight * (pictures[p.frame][i] + p.stops), 0) / weight
    sum += worth * (hole(0, i) || weight === 0 ? HOLE_STOPS ** 2 : (pictures[0][i] - mean) ** 2)
  }
  expect(view.differenceOfMean(view.pictureOf(0), parts)).toBeCloseTo(sum / all, 7)
})

test('the best donors have the largest shares, and a share that all have in common stays', () => {
  const cost = (_: number, column: number) => [1, 1.2, 3, Number.POSITIVE_INFINITY, 1.1][column]
  const stack = stackOf([0, 1, 2, 3, 4], 2, cost)!
  for (const row of stack.shares) {
    expect(row.map((s) => s.column)).toEqual([0, 4, 1, 2])
    expect(row.reduce((s, { weight }) => s + weight, 0)).toBeCloseTo(1, 12)
    for (let k = 1; k < row.length; k++) expect(row[k].weight).toBeLessThan(row[k - 1].weight)
  }
  expect(stack.cost).toBeLessThan(1.1)
  expect(stack.donorsCost).toBeGreaterThan(1)
  expect(stack.donorsCost).toBeLessThan(1.2)
  expect(stack.cost).toBeGreaterThan(0.5)
  expect(stackOf([0, 1, 3], 2, cost)).toBeNull()
})
