// Planted truth: grain that we chose, found again. Outside truth: J. Immerkaer, Fast Noise Variance Estimation (CVIU 1996),
// eq. 5, written out here, on a flat wall; see also tests/reference/grain.test.ts.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import type { Seen } from '../../../src/repair/grain/laid-frames.js'
import { measureGrain, renewalOf } from '../../../src/repair/grain/measure.js'
import { type GrainModel, grainAt, varianceOf } from '../../../src/repair/grain/model.js'
import { normal } from '../../synthetic.js'
import { type GrainOptions, grainy, H, noiseIn, W } from './grainy.js'

const workspace = new Workspace()
const everywhere = new Float32Array(W * H).fill(1)

function measured(options: GrainOptions): GrainModel {
  return measureGrain(workspace, grainy(options), everywhere, 10, true)!
}

/** Mean absolute difference of two Laplacians, over 6, times the root of pi / 2. */
function immerkaer(values: Readonly<Float32Array>): number {
  let sum = 0
  for (let y = 1; y < H - 1; y++)
    for (let x = 1; x < W - 1; x++) {
      const at = (u: number, v: number) => values[(y + v) * W + x + u]
      const corners = at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1)
      sum += Math.abs(corners - 2 * (at(0, -1) + at(-1, 0) + at(1, 0) + at(0, 1)) + 4 * at(0, 0))
    }
  return (Math.sqrt(Math.PI / 2) * sum) / (6 * (W - 2) * (H - 2))
}

describe('the grain of a plate', () => {
  test('on a flat wall is as strong as Immerkaer’s formula has it, in every channel', () => {
    const light = () => 0.3
    const seen = grainy({ level: [0.008, 0.012, 0.02], light })
    const model = measureGrain(workspace, seen, everywhere, 10, true)!
    for (const c of [0, 1, 2])
      expect(grainAt(model, c, 0.3) / immerkaer(noiseIn(seen[0].picture, c, light))).toBeCloseTo(1, 1)
  })

  test('goes with the light as it was planted, the root of it', () => {
    const model = measured({ level: [0.01, 0.012, 0.015] })
    for (const c of [0, 1, 2]) {
      expect(Math.abs(model.power[c] - 0.5)).toBeLessThan(0.06)
      for (const light of [0.12, 0.3, 0.55])
        expect(grainAt(model, c, light) / ([0.01, 0.012, 0.015][c] * Math.sqrt(light))).toBeCloseTo(1, 1)
    }
  })

  test.each([0, 0.5, 0.9])('of which %d is carried to the next frame is renewed by the rest', (carried) => {
    // Over thirteen frames all of it is only seen where it does not last longer.
    const model = measured({ carried, frames: 24 })
    expect(Math.abs(renewalOf(model) - (1 - carried))).toBeLessThan(carried > 0.8 ? 0.05 : 0.03)
  })

  test('that all channels share is one component', () => {
    const share = (common: number) => {
      const { whole } = measured({ common })
      const parts = whole.map((s) => s.reduce((sum, v) => sum + v, 0))
      return Math.max(...parts) / parts.reduce((sum, v) => sum + v, 0)
    }
    expect(share(0)).toBeLessThan(0.4)
    expect(share(0.99)).toBeGreaterThan(0.95)
  })

  test('that is softer across than down has less of fine detail across', () => {
    const { whole, mix } = measured({ blur: 4 })
    const at = (x: number, y: number) => whole.reduce((sum, s, k) => sum + mix[3 + k] ** 2 * s[16 * y + x], 0)
    // The mean of four pixels lets nothing through at a quarter of a cycle per pixel.
    expect(at(4, 1) / at(1, 4)).toBeLessThan(0.1)
    expect(at(8, 2) / at(2, 8)).toBeLessThan(0.1)
  })

  test('is not told by texture, however fine', () => {
    const gravel = (x: number, y: number) =>
      0.3 + 0.1 * Math.sin(2.1 * x + 0.7 * y) * Math.sin(1.3 * y - 0.4 * x)
    const model = measured({ light: gravel })
    expect(grainAt(model, 1, 0.3) / (0.01 * Math.sqrt(0.3))).toBeCloseTo(1, 1)
  })

  test('is not told by whoever passes in front of a few frames', () => {
    const seen = grainy({})
    for (const f of [2, 3, 4])
      for (let y = 0; y < H; y++)
        for (let x = 10 * f; x < 10 * f + 30; x++)
          for (let c = 0; c < 3; c++) seen[f].picture.data[3 * (y * W + x) + c] *= 0.4
    const model = measureGrain(workspace, seen, everywhere, 10, true)!
    expect(Math.abs(grainAt(model, 1, 0.3) / (0.01 * Math.sqrt(0.3)) - 1)).toBeLessThan(0.15)
  })

  test('goes with the light as it was planted where people stand in the dark tiles on most frames', () => {
    // On a market people pass without a break: a fifth of the frame, all of its darkest part, shows somebody nearly always.
    // Coats are smooth beside bricks, and it is the smoothest tiles that tell.
    const bricks = (x: number, y: number) =>
      (0.1 + (0.5 * x) / W) * (1 + 0.25 * Math.sin(0.8 * x) * Math.sin(0.5 * y))
    const seen = grainy({ light: bricks })
    const random = normal(9)
    for (const [f, { picture }] of seen.entries()) {
      if (f % 4 === 3) continue
      // Each wears another coat with other folds in it.
      const [shade, phase] = [0.6 + 0.1 * random(), 20 * random()]
      for (let y = 24; y < 56; y++)
        for (let x = 0; x < 28; x++)
          for (let c = 0; c < 3; c++) {
            const coat = 0.1 * (shade + 0.12 * Math.sin(x / 10 + phase))
            const grain = picture.data[3 * (y * W + x) + c] - bricks(x, y)
            picture.data[3 * (y * W + x) + c] = coat + grain * Math.sqrt(coat / bricks(x, y))
          }
    }
    const model = measureGrain(workspace, seen, everywhere, 10, false)!
    for (const lit of [0.12, 0.3, 0.55])
      expect(Math.abs(grainAt(model, 1, lit) / (0.01 * Math.sqrt(lit)) - 1)).toBeLessThan(0.1)
  })

  test('is told pixel by pixel on one surface: where light and dark lie beside each other, each has its own', () => {
    // Rounded display codes: the same noise in every code, whatever the light (IEC 61966-2-1 above its straight part).
    const stripes = (x: number) => (x % 24 < 12 ? 0.02 : 0.5)
    const codeNoise = (light: number) => 0.006 * 2.4 * (light ** (1 / 2.4) + 0.055) ** 1.4
    const seen = grainy({ level: [1, 1, 1], light: () => 1 })
    for (const { picture } of seen)
      for (let i = 0; i < picture.data.length; i++) {
        const light = stripes(Math.floor(i / 3) % W)
        picture.data[i] = light + (picture.data[i] - 1) * codeNoise(light)
      }
    const model = measureGrain(workspace, seen, everywhere, 10, true)!
    const variance = model.whole.reduce((sum, s, k) => sum + model.mix[3 + k] ** 2 * varianceOf(s), 0)
    for (const middle of [6, 18]) {
      let [sum, n] = [0, 0]
      for (let y = 20; y < H - 20; y++)
        for (let x = 24 + middle; x < W - 24; x += 24, n++)
          sum += (grainAt(model, 1, stripes(x)) * model.where![y * W + x]) ** 2 * variance
      const told = Math.sqrt(sum / n) / codeNoise(stripes(middle))
      expect(told).toBeGreaterThan(0.85)
      expect(told).toBeLessThan(1.15)
    }
  })

  test('of a plate without any is none', () => {
    const seen = grainy({ level: [0, 0, 0] })
    // Each differs from the others in a pixel: no frame is held.
    for (const [f, { picture }] of seen.entries()) picture.data[3 * f] += 0.01
    const model = measureGrain(workspace, seen, everywhere, 10, true)!
    expect([0, 1, 2].map((c) => grainAt(model, c, 0.3))).toEqual([0, 0, 0])
  })

  test('is unknown where one frame is seen, or the same one twice', () => {
    const [one] = grainy({ frames: 1 })
    const twice: Seen[] = [one, { ...one, frame: 1002 }]
    expect(measureGrain(workspace, [one], everywhere, 10, true)).toBeNull()
    expect(measureGrain(workspace, twice, everywhere, 10, true)).toBeNull()
    expect(measureGrain(workspace, [], everywhere, 10, true)).toBeNull()
    expect(measureGrain(workspace, grainy({}), new Float32Array(W * H), 10, true)).toBeNull()
  })
})
