// Life is movement beyond grain. Grain of a sensor is the same number of electrons in light and in the dark, so in stops it is
// many times larger in the dark (M. Healey and R. Kondepudy, Radiometric CCD Camera Calibration and Noise Estimation, 1994).
// Planted truth: a wall that stands still, and water that does not.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { IDENTITY } from '../../src/raster/transform.js'
import { lifeOf } from '../../src/search/life.js'
import type { Registered } from '../../src/search/register.js'
import { normal, texturedWall } from '../synthetic.js'

const workspace = new Workspace()
const WINDOW = { x: 0, y: 0, w: 96, h: 72 }
const PIXELS = WINDOW.w * WINDOW.h
const FLOOR = 0.0005
const PASSING = 5

/**
 * @param light of a frame, linear
 * @param noise in light, the same everywhere
 * @param cut   whether what lies far off is left out
 * @param soft  pixels to either side over which noise is blurred, with as much of it left
 */
function life(
  light: (frame: number, x: number, y: number) => number,
  noise: number,
  { cut = false, soft = 0 } = {},
): number {
  const frames: Registered[] = []
  const bands: number[] = []
  for (let frame = 1001; frame <= 1008; frame++) {
    const next = normal(frame)
    const white = Float32Array.from({ length: PIXELS }, next)
    const grain = (x: number, y: number) => {
      let sum = 0
      for (let v = -soft; v <= soft; v++)
        for (let u = -soft; u <= soft; u++)
          sum += white[((y + v + WINDOW.h) % WINDOW.h) * WINDOW.w + ((x + u + WINDOW.w) % WINDOW.w)]
      return sum / (2 * soft + 1)
    }
    const aligned = new Float32Array(PIXELS)
    for (let y = 0, i = 0; y < WINDOW.h; y++)
      for (let x = 0; x < WINDOW.w; x++, i++)
        aligned[i] = Math.log2(Math.max(0, light(frame, x, y) + noise * grain(x, y)) + FLOOR)
    const validity = new Uint8Array(PIXELS).fill(1)
    frames.push({ plate: 0, frame, pose: IDENTITY, aligned, validity, exposure: 0, held: true })
    for (let i = 0; i + WINDOW.w + 1 < PIXELS; i += 7)
      bands.push(
        Math.abs(aligned[i] - aligned[i + 1] - aligned[i + WINDOW.w] + aligned[i + WINDOW.w + 1]) / 2,
      )
  }
  // Donoho 1994, as a frame's noise is told.
  const sigma = bands.sort((a, b) => a - b)[bands.length >> 1] / 0.6745
  // Who lies further from the clean plate counts as somebody who passes, grain's own far ends in the dark, too.
  const usual = Float32Array.from(
    { length: PIXELS },
    (_, i) => frames.map(({ aligned }) => aligned[i]).sort((a, b) => a - b)[frames.length >> 1],
  )
  const isSteady = (f: Registered, i: number) => Math.abs(f.aligned[i] - usual[i]) < PASSING * sigma
  const steadyOf = (f: Registered) => Uint8Array.from(usual, (_, i) => (cut && !isSteady(f, i) ? 0 : 1))
  const steady = new Map(frames.map((f) => [f, steadyOf(f)]))
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

  test.each([0.01, 0.02, 0.04])(
    'of such a wall is none under the heaviest grain, whose far ends in the dark are taken for somebody, %f of light',
    (noise) => {
      expect(life(still, noise, { cut: true })).toBeLessThan(0.25)
    },
  )

  test('of a plain wall, where all that varies is soft grain, is little', () => {
    const plain = (_: number, x: number) => 0.2 + 0.001 * x
    // Of its power six parts in seven are told for grain.
    expect(life(plain, 0.004, { soft: 1 })).toBeLessThan(Math.sqrt(1 / 7))
  })

  test('of water is nearly all of its detail, with grain and without', () => {
    for (const noise of [0.0001, 0.001, 0.004]) expect(life(water, noise)).toBeGreaterThan(0.8)
  })
})
