// Life is movement beyond grain. Grain of a sensor is the same number of electrons in light and in the dark, so in stops it is
// many times larger in the dark (M. Healey and R. Kondepudy, Radiometric CCD Camera Calibration and Noise Estimation, 1994).
// Planted truth: a wall that stands still, and water that does not.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { IDENTITY } from '../../src/raster/transform.js'
import { lifeOf } from '../../src/search/pixel-lists.js'
import type { Registered } from '../../src/search/register.js'
import { normal, texturedWall } from '../synthetic.js'

const workspace = new Workspace()
const WINDOW = { x: 0, y: 0, w: 96, h: 72 }
const PIXELS = WINDOW.w * WINDOW.h
const FLOOR = 0.0005

/**
 * @param light of a frame, linear
 * @param noise in light, the same everywhere
 */
function life(light: (frame: number, x: number, y: number) => number, noise: number): number {
  const frames: Registered[] = []
  const bands: number[] = []
  for (let frame = 1001; frame <= 1008; frame++) {
    const grain = normal(frame)
    const aligned = new Float32Array(PIXELS)
    for (let y = 0, i = 0; y < WINDOW.h; y++)
      for (let x = 0; x < WINDOW.w; x++, i++)
        aligned[i] = Math.log2(Math.max(0, light(frame, x, y) + noise * grain()) + FLOOR)
    const validity = new Uint8Array(PIXELS).fill(1)
    frames.push({ plate: 0, frame, pose: IDENTITY, aligned, validity, exposure: 0, held: true })
    for (let i = 0; i + WINDOW.w + 1 < PIXELS; i += 7)
      bands.push(
        Math.abs(aligned[i] - aligned[i + 1] - aligned[i + WINDOW.w] + aligned[i + WINDOW.w + 1]) / 2,
      )
  }
  // Donoho 1994, as a frame's noise is told.
  const sigma = bands.sort((a, b) => a - b)[bands.length >> 1] / 0.6745
  const steady = new Map(frames.map((f) => [f, new Uint8Array(PIXELS).fill(1)]))
  const surround = Int32Array.from({ length: PIXELS }, (_, i) => i)
  const steps = lifeOf(workspace, frames, steady, surround, WINDOW, sigma)
  let step = steps.next()
  while (!step.done) step = steps.next()
  return step.value!
}

const wall = texturedWall(3)
/** Half of the wall lies in the dark, four stops down. */
const still = (_: number, x: number, y: number) => (wall(x, y) / 4) * (x < WINDOW.w / 2 ? 1 : 1 / 16)
/** Waves that are never the same twice. */
const water = (frame: number, x: number, y: number) => texturedWall(100 + frame)(x, y) / 4

describe('life', () => {
  test.each([0.0004, 0.001, 0.002])(
    'of a wall half in the dark is none under the grain of a sensor, %f of light',
    (noise) => {
      expect(life(still, noise)).toBeLessThan(0.15)
    },
  )

  test('of water is nearly all of its detail, with grain and without', () => {
    for (const noise of [0.0001, 0.001, 0.004]) expect(life(water, noise)).toBeGreaterThan(0.8)
  })
})
