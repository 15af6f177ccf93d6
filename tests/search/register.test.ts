// Frames whose poses are known laid on one grid. Planted truth: a wall, a camera, the light on it, who passes.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { INVALID, VALID } from '../../src/match/log-luminance.js'
import { shift, shiftOf } from '../../src/raster/transform.js'
import { cameraDoubt, offsetBetween, type Registration, register } from '../../src/search/register.js'
import type { TrackedFrame } from '../../src/track/frame-tracker.js'
import { atOnce } from '../../src/turns.js'
import { texturedWall, wallPlane } from '../synthetic.js'

const WINDOW = { x: 20, y: 16, w: 56, h: 40 }
const REACH = 8
const SEEN = { x: WINDOW.x - REACH, y: WINDOW.y - REACH, w: WINDOW.w + 2 * REACH, h: WINDOW.h + 2 * REACH }
const GRAIN = 0.01
// No detail that the filter can't carry by parts of a pixel: what differs is grain.
const wall = texturedWall(1, 10)
const truth = wallPlane(wall, WINDOW).data
const everywhere = new Float32Array(WINDOW.w * WINDOW.h).fill(1)

interface Plan {
  readonly dx?: number
  readonly dy?: number
  readonly stops?: number
  /** Standard error of the pose, pixels. */
  readonly sigma?: number
  readonly earns?: boolean
  /** Somebody a stop and a half darker covers so many columns of what is read, from the left. */
  readonly covered?: number
}

function frameOf(
  { dx = 0, dy = 0, stops = 0, sigma = 0.02, earns, covered = 0 }: Plan,
  i: number,
): TrackedFrame {
  const log = wallPlane(wall, SEEN, { dx, dy, stops, noise: GRAIN, start: 50 + i })
  for (let k = 0; k < log.data.length; k++) if (k % SEEN.w < covered) log.data[k] -= 1.5
  const moves = dx !== 0 || dy !== 0
  return {
    ...{ plate: 0, frame: 1001 + i, noise: GRAIN },
    pose: { transform: shift(-dx, -dy), sigma, earns: earns ?? moves, still: !moves },
    seen: { log, validity: new Uint8Array(SEEN.w * SEEN.h).fill(VALID) },
  }
}

const MIN_SPREAD = 0.004

const registered = (plans: readonly Plan[], how = {}) => registeredOf(plans.map(frameOf), how)

function registeredOf(frames: readonly TrackedFrame[], { hidden = -1, holds = true } = {}): Registration {
  const stages = register(new Workspace(), frames, {
    window: WINDOW,
    surround: everywhere,
    reference: { plate: 0, frame: 1001 },
    hidden: ({ frame }) =>
      frame === 1001 + hidden ? everywhere.map((_, i) => (i % WINDOW.w < 10 ? 1 : 0)) : null,
    minSpreadAt: () => MIN_SPREAD,
    mayHold: holds,
  })
  return atOnce(stages)
}

const rms = (values: readonly number[]) => Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length)
function repeat<T = Plan>(n: number, made: (i: number) => T): T[] {
  return Array.from({ length: n }, (_, i) => made(i))
}

describe('a swaying camera', () => {
  const plans = repeat(24, (i) => (i === 0 ? {} : { dx: 2.3 * Math.sin(i), dy: 1.4 * Math.cos(2 * i) }))
  const { frames, cleanPlate, locked, camera } = registered(plans)

  test('is known to move, and every frame lies on the same wall to its grain', () => {
    expect([locked, camera]).toEqual([false, 'moves'])
    for (const { aligned, exposure } of frames)
      expect(rms([...aligned].map((v, i) => v + exposure - truth[i]))).toBeLessThan(1.1 * GRAIN)
  })

  test('leaves a clean plate with less grain than any frame has', () => {
    expect(rms([...cleanPlate.level].map((v, i) => v - truth[i]))).toBeLessThan(0.6 * GRAIN)
  })

  test('is undone between two frames as it moved between them', () => {
    const { dx, dy } = offsetBetween(frames[3], frames[7], WINDOW)
    expect(dx).toBeCloseTo(plans[3].dx! - plans[7].dx!, 6)
    expect(dy).toBeCloseTo(plans[3].dy! - plans[7].dy!, 6)
  })
})

test('a camera whose offsets are the aligner’s noise is locked off: nothing is moved, and no sample changes', () => {
  const plans = repeat(12, (i) => ({ dx: 0.02 * Math.sin(i), earns: false }))
  const { frames, locked } = registered(plans)
  expect(locked).toBe(true)
  for (const [i, f] of frames.entries()) {
    expect(shiftOf(f.pose, WINDOW)).toEqual({ dx: 0, dy: 0 })
    const { log } = frameOf(plans[i], i).seen
    const at = (k: number) => (Math.floor(k / WINDOW.w) + REACH) * SEEN.w + (k % WINDOW.w) + REACH
    expect(f.aligned.every((v, k) => v === log.data[at(k)])).toBe(true)
  }
})

test('a frame whose pose nothing holds says so', () => {
  const plans = repeat(12, (i) => ({ dx: i === 0 ? 0 : Math.sin(i), sigma: i === 5 ? 4 : 0.02 }))
  expect(registered(plans).frames.map((f) => f.held)).toEqual(plans.map((_, i) => i !== 5))
})

test('where nothing in the frames would tell that the camera moved none is moved, and that is said', () => {
  const result = registered(
    repeat(8, (i) => ({ dx: Math.sin(i) })),
    { holds: false },
  )
  expect(result.camera).toBe('unknown')
  expect(cameraDoubt(result, false)).toEqual({
    doubt: expect.stringContaining('nothing in the frame tells whether the camera moved'),
    note: null,
  })
  for (const { pose } of result.frames) expect(shiftOf(pose, WINDOW)).toEqual({ dx: 0, dy: 0 })
})

describe('a camera that is followed by those who walk before a plain sky, and lost when they have gone', () => {
  /** So many stops from left to right over what is read. */
  const skyOf = (i: number, slope: number, lost: boolean): TrackedFrame => {
    const log = wallPlane((x) => (slope * x) / SEEN.w, SEEN, { noise: GRAIN, start: 90 + i })
    const sigma = lost ? Number.POSITIVE_INFINITY : 0.02
    return {
      ...{ plate: 0, frame: 1001 + i, noise: GRAIN },
      pose: { transform: shift(0, 0), sigma, earns: false, still: !lost },
      seen: { log, validity: new Uint8Array(SEEN.w * SEEN.h).fill(VALID) },
    }
  }
  const laid = (slopeOf: (i: number) => number, lostFrom: number) =>
    registeredOf(repeat(12, (i) => skyOf(i, slopeOf(i), i >= lostFrom)))

  test('is not known where it goes: all frames lend as they lie, and that is said', () => {
    const { camera, frames } = laid(() => 0.2, 4)
    expect(camera).toBe('unknown')
    for (const { held, pose } of frames) {
      expect(held).toBe(true)
      expect(shiftOf(pose, WINDOW)).toEqual({ dx: 0, dy: 0 })
    }
  })

  test('lends nothing of frames that show another part of the sky', () => {
    const { camera, frames } = laid((i) => (i < 4 ? 0.2 : -0.6), 4)
    expect(camera).not.toBe('unknown')
    expect(frames.map((f) => f.held)).toEqual(repeat(12, (i) => i < 4))
  })

  test('is known where most frames are followed', () => {
    const { camera, frames } = laid(() => 0.2, 8)
    expect(camera).not.toBe('unknown')
    expect(frames.map((f) => f.held)).toEqual(repeat(12, (i) => i < 8))
  })
})

test('light is told to a hundredth of a stop, and by the wall where somebody covers two fifths of the surround', () => {
  const plans = repeat(16, (i) => ({
    stops: 0.3 * Math.sin(i),
    covered: i === 9 ? REACH + (WINDOW.w * 2) / 5 : 0,
  }))
  const { frames } = registered(plans)
  for (const [i, f] of frames.entries())
    expect(Math.abs(f.exposure - frames[0].exposure + plans[i].stops! - plans[0].stops!)).toBeLessThan(0.01)
})

test('the region of a target is hidden from all that judges, and kept beside it', () => {
  const { frames } = registered(
    repeat(6, () => ({})),
    { hidden: 2 },
  )
  for (const [i, { validity, shown }] of frames.entries()) {
    expect(validity.every((v, k) => v === (i === 2 && k % WINDOW.w < 10 ? INVALID : VALID))).toBe(true)
    if (i === 2) expect(shown!.every((v) => v === VALID)).toBe(true)
    else expect(shown).toBeUndefined()
  }
})
