// Planted truth: a wall and the same behind a Gaussian that we chose, each in grain of its own.
import { expect, test } from 'vitest'
import { type Frame, frame } from '../../../src/raster/frame.js'
import type { GrainModel } from '../../../src/repair/grain/model.js'
import { tilesWithin } from '../../../src/repair/sharpness/compare.js'
import { blurred } from '../../../src/repair/sharpness/gaussian.js'
import { sigmaBetween } from '../../../src/repair/sharpness/match.js'
import { grainOf, texturedWall } from '../../synthetic.js'

const [W, H] = [120, 100]
const there = new Uint8Array(W * H).fill(1)
const all = new Float64Array(256).fill(1)
const wall = texturedWall(3, 5)
const sharp = frame(H, W, 3)
for (let i = 0; i < sharp.data.length; i++) {
  const k = Math.floor(i / 3)
  sharp.data[i] = wall(k % W, Math.floor(k / W))
}

/** White grain, of a level that goes with the light. */
function grainModel(level: number): GrainModel {
  const spectra = [all, all, all]
  const mix = Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1)
  return {
    level: [level, level, level],
    power: [1, 1, 1],
    where: null,
    mix,
    whole: spectra,
    fresh: spectra,
    changes: null,
  }
}

function grained({ data }: Frame, level: number, start: number): Frame {
  const grain = grainOf(start, data.length)
  return frame(
    H,
    W,
    3,
    data.map((v, i) => v * (1 + level * grain[i])),
  )
}

/** A ring of 24 pixels. */
const tiles = tilesWithin(
  (i) => Math.max(40 - (i % W), (i % W) - 79, 35 - Math.floor(i / W), Math.floor(i / W) - 64) > 0,
  W,
  H,
)

test.each([
  [0.6, 0.005],
  [0.6, 0.03],
  [1.2, 0.005],
  [1.2, 0.03],
])('a blur of %d px is found to a tenth under grain of %d of the light', (sigma, level) => {
  const pair = {
    target: grained(blurred(sharp, there, sigma), level, 1),
    // Twice as bright: light is no sharpness.
    donor: grained({ ...sharp, data: sharp.data.map((v) => 2 * v) } as Frame, level, 2),
    ...{ there, tiles, kept: { target: all, donor: all } },
  }
  expect(Math.abs(sigmaBetween(pair, grainModel(level))! / sigma - 1)).toBeLessThan(0.1)
})

test('grain that a donor has lost is no softness of it', () => {
  const half = all.map(() => 0.5)
  const pair = {
    target: grained(sharp, 0.03 * Math.SQRT1_2, 1),
    donor: grained(sharp, 0.03, 2),
    there,
    tiles,
  }
  const model = grainModel(0.03)
  expect(sigmaBetween({ ...pair, kept: { target: half, donor: all } }, model)).toBeLessThan(0.2)
  expect(sigmaBetween({ ...pair, kept: { target: all, donor: all } }, model)).toBeGreaterThan(0.3)
})

test('two walls, or grain alone, tell no sharpness', () => {
  const other = texturedWall(9, 5)
  const second = frame(
    H,
    W,
    3,
    sharp.data.map((_, i) => other(Math.floor(i / 3) % W, Math.floor(i / 3 / W))),
  )
  const flat = frame(
    H,
    W,
    3,
    sharp.data.map(() => 0.2),
  )
  for (const [a, b] of [
    [sharp, second],
    [flat, flat],
  ])
    expect(
      sigmaBetween(
        {
          target: grained(a, 0.02, 1),
          donor: grained(b, 0.02, 2),
          there,
          tiles,
          kept: { target: all, donor: all },
        },
        grainModel(0.02),
      ),
    ).toBeNull()
})
