// Planted truth: leaves that swing in place under grain that we chose. A small shift of a picture changes it by the shift times its
// slope, to the first order (Taylor); grain knows nothing of slopes, and of n samples two parameters explain 2 / n by chance.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame } from '../../../src/raster/frame.js'
import type { Seen } from '../../../src/repair/grain/laid-frames.js'
import { measureGrain, renewalOf } from '../../../src/repair/grain/measure.js'
import { grainAt, TILE_PX } from '../../../src/repair/grain/model.js'
import { movingPlaces, ShiftFit } from '../../../src/repair/grain/moving-scenery.js'
import { normal } from '../../synthetic.js'
import { H, W } from './grainy.js'

const SIGMA = 0.01
const everywhere = new Float32Array(W * H).fill(1)

/** Leaves: waves of several lengths in all directions, linear light round 0.3. */
function leaves(x: number, y: number): number {
  const wave = (a: number, b: number, at: number) => Math.sin(a * x + b * y + at)
  return 0.3 + 0.03 * (wave(0.9, 0.4, 0) + wave(-0.5, 0.8, 1) + wave(0.3, -1.1, 2) + wave(0.7, 0.9, 3))
}

/** Green, with grain of SIGMA; what of it swings lies so far to the right. */
function shot(swing: (x: number, y: number) => number, random: () => number, sigma = SIGMA): Float32Array {
  return Float32Array.from({ length: W * H }, (_, i) => {
    const [x, y] = [i % W, Math.floor(i / W)]
    return leaves(x - swing(x, y), y) + sigma * random()
  })
}

const samples = (data: Float32Array) => ({ data, step: 1, first: 0 })

/** Frames in which all above half of the height swings to and fro by a pixel, each branch by itself, and the rest stands still. */
function swinging(frames: number): Seen[] {
  const random = normal(5)
  return Array.from({ length: frames }, (_, f) => {
    const swing = (x: number) => Math.sin((2 * Math.PI * f) / 24 + x / 14)
    const picture = frame(H, W, 3)
    for (const c of [0, 1, 2]) {
      const green = shot((x, y) => (y < H / 2 ? swing(x) : 0), random)
      for (let i = 0; i < green.length; i++) picture.data[3 * i + c] = green[i]
    }
    return { frame: 1001 + f, picture }
  })
}

describe('a small shift', () => {
  const corner = 2 * TILE_PX * W + 2 * TILE_PX

  test('explains nearly all that leaves differ by, and hardly anything of grain', () => {
    const random = normal(1)
    const share = (swing: number, sigma: number) =>
      new ShiftFit().share(
        [samples(shot(() => 0, random, sigma)), samples(shot(() => swing, random, sigma))],
        corner,
        W,
      )
    expect(share(0.4, 0.001)).toBeGreaterThan(0.95)
    const ofGrain = Array.from({ length: 40 }, () => share(0, SIGMA))
    const mean = ofGrain.reduce((sum, v) => sum + v, 0) / ofGrain.length
    // A chance of 2 / 256, of which forty tiles stray by a sixth.
    expect(mean).toBeGreaterThan(0.5 * (2 / 256))
    expect(mean).toBeLessThan(1.5 * (2 / 256))
  })

  test('taken off what two frames differ by leaves the grain', () => {
    const random = normal(2)
    const [one, two] = [shot(() => 0, random), shot(() => 0.3, random)]
    const off = new Float64Array(TILE_PX * TILE_PX)
    for (let k = 0; k < off.length; k++) {
      const i = corner + Math.floor(k / TILE_PX) * W + (k % TILE_PX)
      off[k] = one[i] - two[i]
    }
    const mean = off.reduce((sum, v) => sum + v, 0) / off.length
    for (let k = 0; k < off.length; k++) off[k] -= mean
    const variance = () => off.reduce((sum, v) => sum + v * v, 0) / off.length
    const before = variance()
    const share = new ShiftFit().takeOff([samples(one), samples(two)], corner, W, off)
    expect(variance() / before).toBeCloseTo(1 - share, 6)
    expect(before / (2 * SIGMA ** 2)).toBeGreaterThan(1.3)
    // The variance of 256 samples of grain strays by nine per cent.
    expect(Math.abs(variance() / (2 * SIGMA ** 2) - 1)).toBeLessThan(0.2)
  })
})

describe('leaves that swing in place', () => {
  test('are known by their places, but for a branch that is where it was whenever it is looked at', () => {
    const planes = swinging(13).map(({ picture }) => samples(picture.data.filter((_, i) => i % 3 === 1)))
    const far = planes.flatMap((one, k) => planes.slice(k + 8).map((two) => [one, two] as const))
    const near = planes.slice(1).map((one, k) => [planes[k], one] as const)
    const moves = movingPlaces({ near, far }, W, H)
    const swings = moves.subarray(0, W * (H / 2))
    expect(swings.filter((v) => v === 1).length / swings.length).toBeGreaterThan(0.8)
    expect(moves.subarray(W * (H / 2)).every((v) => v === 0)).toBe(true)
  })

  test('are no grain: it is as strong as it was planted, and another one on each frame', () => {
    const model = measureGrain(new Workspace(), swinging(13), everywhere, 10, true)!
    for (const c of [0, 1, 2]) expect(Math.abs(grainAt(model, c, 0.3) / SIGMA - 1)).toBeLessThan(0.1)
    expect(renewalOf(model)).toBeGreaterThan(0.9)
    expect(Math.max(...model.where!)).toBeLessThan(1.6)
  })

  test('all over still tell of grain, by the stillest', () => {
    const all = swinging(13).map(({ frame: number, picture }) => ({ frame: number, picture }))
    const half = new Float32Array(W * H).fill(1, 0, W * (H / 2))
    expect(measureGrain(new Workspace(), all, half, 10, true)).not.toBeNull()
  })
})
