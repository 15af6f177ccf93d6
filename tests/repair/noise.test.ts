// Planted truth: known noise per channel, on texture and on blocks that stand still. Outside truth for one flat picture: the
// formula of J. Immerkær, Fast Noise Variance Estimation (CVIU 1996), written out here.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { resample } from '../../src/kernels/resample.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { LOG_FLOOR } from '../../src/match/log-luminance.js'
import { CUBIC, LANCZOS3, shiftPower } from '../../src/raster/filters.js'
import { powerOver } from '../../src/raster/footprint.js'
import { type Frame, frame } from '../../src/raster/frame.js'
import { plane } from '../../src/raster/plane.js'
import { shift, type Transform } from '../../src/raster/transform.js'
import { flatNoise } from '../../src/repair/noise.js'
import { keptNoise, noiseOf } from '../../src/repair/regrain.js'
import { openRepair, repairFrame } from '../../src/repair/repair.js'
import type { FrameMatch } from '../../src/search/result.js'
import { writeCodes } from '../codes.js'
import { normal, plantPlate, random } from '../synthetic.js'
import { resultFor } from './job.js'

const workspace = new Workspace()

const folder = mkdtempSync(join(tmpdir(), 'offcut-noise-'))
afterAll(() => rmSync(folder, { recursive: true }))

const W = 120
const H = 96
const NOISE = [0.02, 0.03, 0.05] as const
const WINDOW = { x: 0, y: 0, w: W, h: H }
const EVERYWHERE = new Float32Array(W * H).fill(1)

/** A picture in stops made linear, with its own noise per channel. */
function shot(
  stops: (x: number, y: number) => number,
  start: number,
  noise: readonly number[] = NOISE,
): Frame {
  const grain = normal(start)
  const out = frame(H, W, 3)
  for (let y = 0, j = 0; y < H; y++)
    for (let x = 0; x < W; x++)
      for (let c = 0; c < 3; c++, j++) out.data[j] = 0.3 * 2 ** (stops(x, y) + noise[c] * grain())
  return out
}

const flat = () => 0
/** Gravel: detail of a pixel, half a stop strong, that is the same in every frame. */
const gravel = (() => {
  const even = random(4)
  const stones = Float32Array.from({ length: W * H }, () => 0.5 * (even() - 0.5))
  return (x: number, y: number) => stones[Math.round(y) * W + Math.round(x)] ?? 0
})()

/** Immerkær 1996: the difference of two Laplacians, mean absolute, sigma = sqrt(pi / 2) / 6 of it. */
function immerkaer(values: Readonly<Float32Array>): number {
  let sum = 0
  for (let y = 1; y < H - 1; y++)
    for (let x = 1; x < W - 1; x++) {
      const at = (u: number, v: number) => values[(y + v) * W + x + u]
      sum += Math.abs(
        at(-1, -1) -
          2 * at(0, -1) +
          at(1, -1) -
          2 * at(-1, 0) +
          4 * at(0, 0) -
          2 * at(1, 0) +
          at(-1, 1) -
          2 * at(0, 1) +
          at(1, 1),
      )
    }
  return (Math.sqrt(Math.PI / 2) * sum) / (6 * (W - 2) * (H - 2))
}

describe('noise of a picture', () => {
  test('on a flat wall is what Immerkær’s formula finds, in every channel', () => {
    const picture = shot(flat, 1)
    for (const c of [0, 1, 2]) {
      const stops = Float32Array.from(EVERYWHERE, (_, i) => Math.log2(picture.data[3 * i + c] + LOG_FLOOR))
      const found = flatNoise(stops, W, EVERYWHERE)!
      // The quietest quarter of tiles lies a little low, never high.
      expect(found / immerkaer(stops)).toBeGreaterThan(0.8)
      expect(found / immerkaer(stops)).toBeLessThan(1.02)
    }
  })

  test.each([
    ['a flat wall', flat],
    ['gravel', gravel],
    ['gravel beside a flat wall', (x: number, y: number) => (x < 40 ? 0 : gravel(x, y))],
  ])('is the planted one on %s, in every channel', (_, wall) => {
    const found = noiseOf(workspace, shot(wall, 1), [shot(wall, 2), shot(wall, 3)], EVERYWHERE)!
    for (const c of [0, 1, 2]) {
      expect(found[c] / NOISE[c]).toBeGreaterThan(0.8)
      expect(found[c] / NOISE[c]).toBeLessThan(1.05)
    }
  })

  test('is the planted one where the camera moves', () => {
    const wave = (dx: number, dy: number) => (x: number, y: number) =>
      0.4 * Math.sin((x - dx) / 2.3) * Math.cos((y - dy) / 2.9) + 0.3 * Math.sin((x - dx + y - dy) / 4)
    const found = noiseOf(workspace, shot(wave(0, 0), 1), [shot(wave(1.4, -0.6), 2)], EVERYWHERE)!
    for (const c of [0, 1, 2]) {
      expect(found[c] / NOISE[c]).toBeGreaterThan(0.75)
      expect(found[c] / NOISE[c]).toBeLessThan(1.1)
    }
  })

  test('of a codec that repeats what it has is nothing, however residual it looks', () => {
    const next = shot(gravel, 1)
    next.data[0] += 0.1
    expect(noiseOf(workspace, shot(gravel, 1), [next], EVERYWHERE)).toEqual([0, 0, 0])
  })

  test('is not told by a frame that is held, nor where nothing is seen', () => {
    expect(noiseOf(workspace, shot(flat, 1), [shot(flat, 1)], EVERYWHERE)).toBeNull()
    const held = noiseOf(workspace, shot(flat, 1), [shot(flat, 1), shot(flat, 2)], EVERYWHERE)!
    expect(held[1] / NOISE[1]).toBeGreaterThan(0.8)
    expect(noiseOf(workspace, shot(flat, 1), [shot(flat, 2)], new Float32Array(W * H))).toBeNull()
  })
})

describe('what lending leaves of noise', () => {
  test('by resampling is the share of variance that white noise keeps', () => {
    const grain = normal(8)
    const source = plane(0, 0, W, H)
    for (let i = 0; i < source.data.length; i++) source.data[i] = grain()
    for (const kernel of [CUBIC, LANCZOS3])
      for (const [dx, dy] of [
        [0, 0],
        [0.5, 0.25],
        [3, -0.4],
      ]) {
        const out = plane(8, 8, W - 16, H - 16)
        resample(workspace, source, shift(dx, dy), out, kernel)
        const variance = out.data.reduce((sum, v) => sum + v * v, 0) / out.data.length
        expect(variance / shiftPower(dx, dy, kernel)).toBeGreaterThan(0.93)
        expect(variance / shiftPower(dx, dy, kernel)).toBeLessThan(1.07)
      }
  })

  test('by averaging four is a half, of another plate what was measured', () => {
    const { candidate } = resultFor('plate', [{ target: 1001, donor: 1002 }])
    const share = {
      plate: 0,
      frame: 1002,
      dx: 0,
      dy: 0,
      gain: [1, 1, 1] as [number, number, number],
      weight: 0.25,
    }
    const stack = { ...candidate.frames[0], stack: [share, share, share, share] }
    expect(keptNoise(stack, 0.2, WINDOW)).toBeCloseTo(0.5, 6)
    expect(keptNoise(stack, 0.7, WINDOW)).toBe(0.7)
    expect(keptNoise({ ...candidate.frames[0], plate: 1 }, 0.6, WINDOW)).toBe(0.6)
  })
})

describe('what a donor that is zoomed and rolled keeps of its noise', () => {
  const ROLLED: Transform = [1.04, -0.05, 2.3, 0.05, 1.04, -3.7, 0, 0, 1]

  test.each([
    { title: 'nearer and rolled', t: ROLLED },
    { title: 'half as large', t: [0.5, 0, 40.2, 0, 0.5, 30.3, 0, 0, 1] as Transform },
    { title: 'tilted', t: [0.98, 0.02, 1, 0.01, 1.02, 2, 3e-4, -2e-4, 1] as Transform },
  ])('$title is what resampled white noise has', ({ t }) => {
    const rect = { x: 40, y: 30, w: 100, h: 80 }
    const source = plane(-40, -40, 400, 300)
    const grain = normal(5)
    for (let i = 0; i < source.data.length; i++) source.data[i] = grain()
    for (const kernel of [CUBIC, LANCZOS3]) {
      const out = plane(rect.x, rect.y, rect.w, rect.h)
      resample(workspace, source, t, out, kernel)
      const variance = out.data.reduce((sum, v) => sum + v * v, 0) / out.data.length
      // Eight thousand samples, neighbours alike: the variance is known to a few hundredths.
      expect(Math.abs(variance / powerOver(t, kernel, rect) - 1)).toBeLessThan(0.06)
    }
  })

  test('is less than where it lies pixel on pixel', () => {
    const { candidate } = resultFor('plate', [{ target: 1001, donor: 1002 }])
    const rolled = { ...candidate.frames[0], transform: [...ROLLED] as FrameMatch['transform'] }
    const kept = keptNoise(rolled, 0.1, WINDOW)
    // On a grid that both were resampled to the donor looked as grainy as the target.
    expect(keptNoise(rolled, 0.99, WINDOW)).toBe(kept)
    expect(kept).toBeCloseTo(Math.sqrt(powerOver(ROLLED, LANCZOS3, WINDOW)), 9)
    expect(kept).toBeLessThan(0.9)
    expect(keptNoise(candidate.frames[0], 0.1, WINDOW)).toBe(1)
  })
})

describe('a stack on a plate', () => {
  const stackOf = async (plate: string, frames: number) => {
    const { result, candidate } = resultFor(
      plate,
      [1003, 1004, 1005].map((target) => ({ target, donor: 1008 })),
      { frames, grain: 0.5 },
    )
    const stack = [1008, 1009, 1010, 1011].map((frame) => ({
      plate: 0,
      frame,
      dx: 0,
      dy: 0,
      gain: [1, 1, 1] as [number, number, number],
      weight: 0.25,
    }))
    const job = await openRepair(result)
    return Promise.all(candidate.frames.map((match) => repairFrame(job, { ...match, stack }, 0.5)))
  }
  /** RMS change from frame to frame in stops, per channel: within the mask, and round it in the plate. */
  const changes = (made: Awaited<ReturnType<typeof stackOf>>) => {
    const sums = [0, 1].map(() => [0, 0, 0])
    const counts = [0, 0]
    for (let k = 1; k < made.length; k++) {
      const [a, b] = [made[k - 1], made[k]]
      for (let i = 0; i < a.mask.length; i++) {
        const where = a.mask[i] === 1 ? 0 : a.alpha[i] === 0 ? 1 : -1
        if (where < 0) continue
        counts[where]++
        for (let c = 0; c < 3; c++)
          sums[where][c] += Math.log2(b.repaired.data[3 * i + c] / a.repaired.data[3 * i + c]) ** 2
      }
    }
    return sums.map((channels, where) => channels.map((v) => Math.sqrt(v / counts[where])))
  }

  test('moves as its surround does, no more', async () => {
    const plate = await plantPlate(join(folder, 'grainy'), { frames: 12, noise: 0.03 })
    const [inside, ring] = changes(await stackOf(plate.folder, 12))
    for (const c of [0, 1, 2]) {
      // Three quarters of the variance are new in each frame, a quarter is the donors', which stay.
      expect(inside[c] / ring[c]).toBeGreaterThan(0.6)
      expect(inside[c] / ring[c]).toBeLessThan(1)
    }
  })

  test('does not boil where the noise stands still', async () => {
    const plate = await plantPlate(join(folder, 'still'), { frames: 12, noise: 0.03 })
    // As a codec does that repeats what it has: the first frame's grain in all, and a code more here and there.
    const even = random(6)
    const grain = normal(5)
    const first = plate.clean(1001).map((v) => v * (1 + 0.03 * grain()))
    for (const number of plate.frames) {
      const codes = first.map((v) => (even() < 0.05 ? v * 1.01 : v))
      await writeCodes(plate.pathOf(number), Float32Array.from(codes), 160, 120)
    }
    const [inside, ring] = changes(await stackOf(plate.folder, 12))
    for (const c of [0, 1, 2]) expect(inside[c]).toBeLessThanOrEqual(ring[c])
  })
})
