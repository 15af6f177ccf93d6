// One target with one donor on the surround. Planted truth: frames made here; and a law: what a borrow asks for pair by
// pair is what the matrix of all pairs says.

import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { VALID } from '../../src/match/log-luminance.js'
import { shift } from '../../src/raster/transform.js'
import type { RegionFrame } from '../../src/region/region.js'
import { knownOf } from '../../src/search/hide/known.js'
import { matchMatrix } from '../../src/search/hide/matrix.js'
import { Measurer } from '../../src/search/measure.js'
import { PairMaker, type Pairs } from '../../src/search/pairs.js'
import type { Registered, Registration } from '../../src/search/register.js'
import { atOnce } from '../../src/turns.js'
import { normal, texturedWall } from '../synthetic.js'

const WINDOW = { x: 8, y: 4, w: 60, h: 44 }
const SIZE = WINDOW.w * WINDOW.h
const BOX = { x: 28, y: 16, w: 20, h: 20 }
const REACH = 3
const workspace = new Workspace()
const GRAIN = 0.02

const wall = texturedWall()
const level = Float32Array.from({ length: SIZE }, (_, i) =>
  Math.log2(wall(WINDOW.x + (i % WINDOW.w), WINDOW.y + Math.floor(i / WINDOW.w))),
)
const isInside = (i: number) => {
  const x = WINDOW.x + (i % WINDOW.w)
  const y = WINDOW.y + Math.floor(i / WINDOW.w)
  return x >= BOX.x && y >= BOX.y && x < BOX.x + BOX.w && y < BOX.y + BOX.h
}
const inside = Float32Array.from({ length: SIZE }, (_, i) => (isInside(i) ? 1 : 0))
const mask: RegionFrame = { inside, surround: inside.map((v) => 1 - v) }

interface Plan {
  readonly stops?: number
  readonly grain?: number
  readonly dx?: number
  readonly held?: boolean
  /** Share of the rows, from the top, that somebody covers. */
  readonly covered?: number
}

function shot(plans: readonly Plan[]): { frames: Registered[]; registration: Registration } {
  const frames = plans.map(
    ({ stops = 0, grain = GRAIN, dx = 0, held = true, covered = 0 }, i): Registered => {
      const noise = normal(100 + i)
      const hidden = covered * SIZE
      const aligned = level.map((v, k) => v + stops + grain * noise() + (k < hidden ? 2 : 0))
      const validity = new Uint8Array(SIZE).fill(VALID)
      // As registration finds it: what brings the frame to the clean plate's light.
      return { plate: 0, frame: 1001 + i, pose: shift(dx, 0), aligned, validity, exposure: -stops, held }
    },
  )
  const spread = new Float32Array(SIZE).fill(GRAIN)
  const cleanPlate = {
    level,
    spread,
    scatter: new Float32Array(level.length),
    support: new Float32Array(SIZE).fill(1),
  }
  return {
    frames,
    registration: {
      window: WINDOW,
      frames,
      cleanPlate,
      locked: true,
      followed: false,
      camera: 'locked' as const,
      minSpread: 1e-3,
      carried: false,
    },
  }
}

function pairsOf(plans: readonly Plan[]): Pairs {
  const { frames, registration } = shot(plans)
  const maker = new PairMaker(workspace, registration, mask, REACH)
  return atOnce(maker.of([frames[0]], frames.slice(1)))
}

describe('a pair of frames', () => {
  test('with the same grain differs by what grain alone gives, and by the stops that were planted', () => {
    const { ncc, stops, seam } = pairsOf([{ stops: 0.25 }, { stops: -0.5 }]).pair(0, 0)
    expect(ncc).toBeGreaterThan(0.99)
    expect(stops).toBeCloseTo(0.75, 2)
    // 2,240 pixels know a standard deviation to 1.5 %.
    expect(seam).toBeGreaterThan(0.95)
    expect(seam).toBeLessThan(1.05)
  })

  test('of which one has three times the grain has a seam of the root of five', () => {
    const { seam } = pairsOf([{}, { grain: 3 * GRAIN }]).pair(0, 0)
    // Where grain goes beyond five spreads it counts as somebody passing: a hundredth of it is left out.
    expect(seam).toBeGreaterThan(0.9 * Math.sqrt(5))
    expect(seam).toBeLessThan(1.02 * Math.sqrt(5))
  })

  test('is compared where nobody passes: half of the surround covered changes neither light nor seam', () => {
    const { stops, seam } = pairsOf([{}, { covered: 0.5 }]).pair(0, 0)
    expect(stops).toBeCloseTo(0, 2)
    expect(seam).toBeLessThan(1.06)
  })

  const absent: { title: string; donor: Plan }[] = [
    { title: 'nine tenths of it covered', donor: { covered: 0.9 } },
    { title: 'an offset beyond the reach', donor: { dx: REACH + 0.6 } },
    { title: 'no pose', donor: { held: false } },
  ]
  test.each(absent)('says nothing with $title', ({ donor }) => {
    expect(pairsOf([{}, donor]).pair(0, 0)).toMatchObject({ ncc: null, stops: null, seam: null })
  })

  test('says nothing of a frame with itself', () => {
    const { frames, registration } = shot([{}, {}])
    const pairs = atOnce(new PairMaker(workspace, registration, mask, REACH).of(frames, frames))
    expect(pairs.pair(1, 1).ncc).toBeNull()
    expect(pairs.pair(1, 0).ncc).not.toBeNull()
  })

  test('asked for by itself is what the matrix of all pairs holds', () => {
    const plans: Plan[] = [
      { stops: 0.1 },
      { dx: 1.25 },
      { stops: -0.3, covered: 0.3 },
      { grain: 2 * GRAIN },
      { covered: 0.95 },
      { dx: -2.5 },
    ]
    const { frames, registration } = shot(plans)
    const targets = frames.slice(0, 3)
    const donors = frames.slice(2)
    const region = {
      box: BOX,
      window: WINDOW,
      surroundPx: 12,
      frames: new Map(targets.map((f) => [f.frame, mask])),
      empty: [],
      notes: [],
    }
    const known = atOnce(knownOf(workspace, registration, region, targets, () => GRAIN))
    const matrix = atOnce(matchMatrix(workspace, known, region, targets, donors, REACH))
    const asked = atOnce(new PairMaker(workspace, registration, mask, REACH).of(targets, donors))
    let numbers = 0
    for (const t of targets.keys())
      for (const d of donors.keys()) {
        const { ncc, stops, seam } = matrix.pair(t, d)
        const alone = asked.pair(t, d)
        // The matrix sums the surround in two parts: float32 sums differ in their last digits.
        for (const [one, other] of [
          [alone.ncc, ncc],
          [alone.stops, stops],
          [alone.seam, seam],
        ]) {
          if (other === null) expect(one).toBeNull()
          else expect(one).toBeCloseTo(other, 4)
        }
        if (ncc !== null) numbers++
      }
    // Of twelve three are covered, one is a frame with itself, and one lies 3.75 px apart.
    expect(numbers).toBe(7)
    expect(asked.surround).toEqual(matrix.surround)
    for (const f of frames) expect(asked.steady.get(f)).toEqual(matrix.steady.get(f))
  })
})

/** A measurer of one target and the frames after it. @param noises of each, stops */
function measurerOf({ frames, registration }: ReturnType<typeof shot>, noises: readonly number[]): Measurer {
  const [target, ...donors] = frames
  const pairs = atOnce(new PairMaker(workspace, registration, mask, REACH).of([target], donors))
  const region = {
    box: BOX,
    window: WINDOW,
    surroundPx: 12,
    frames: new Map([[target.frame, mask]]),
    empty: [],
    notes: [],
  }
  const planted = new Map(frames.map((f, i) => [f, noises[i]]))
  return new Measurer(workspace, region, pairs, (f) => planted.get(f)!)
}

const alone = (column: number) => ({ shares: [[{ column, weight: 1 }]] })

test('who stands in the surround of a donor is no detail of it, nor is his edge', () => {
  const planted = shot([{}, { covered: 0.3 }, { covered: 0.5 }])
  const measurer = measurerOf(planted, [GRAIN, GRAIN, GRAIN])
  for (const column of [0, 1]) {
    const { sharpness } = atOnce(measurer.measure(alone(column))).measures
    // The wall's gradients and two frames' grain, on a thousand pixels and more.
    expect(Math.abs(sharpness! - 1)).toBeLessThan(0.05)
  }
})

test('grain that no eye sees is none: what coding left of it tells no ratio', () => {
  const half = 0.5 * Math.log2(1.005)
  const measurer = measurerOf(shot([{}, {}, {}]), [half / 100, half, 4 * half])
  const grains = [0, 1].map((column) => atOnce(measurer.measure(alone(column))).measures.grain)
  // Half a per cent of light is the least step that is seen: Barten, as min-spread.ts has it.
  expect(grains[0]).toBe(1)
  expect(grains[1]).toBeCloseTo(2, 2)
})

test('the mean of donors that are not equally noisy has the grain that is left in it', () => {
  const planted = shot([{}, { grain: 3 * GRAIN }, {}, { grain: GRAIN / 2 }])
  const donors = planted.frames.slice(1)
  const measurer = measurerOf(
    planted,
    [1, 3, 1, 0.5].map((times) => times * GRAIN),
  )
  const weights = [0.2, 0.5, 0.3]
  const shares = [weights.map((weight, column) => ({ column, weight }))]
  const mean = level.map((v, k) => donors.reduce((sum, d, i) => sum + weights[i] * d.aligned[k], -v))
  const left = Math.sqrt(mean.reduce((sum, v) => sum + v * v, 0) / SIZE)
  const { measures } = atOnce(measurer.measure({ shares }))
  // 2,640 pixels know a standard deviation to 1.4 %.
  expect(Math.abs(measures.grain! / (left / GRAIN) - 1)).toBeLessThan(0.05)
})
