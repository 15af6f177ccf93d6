// What a clean plate takes a surface for that most frames clip: against planted light, and by laws of exposure.
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { type AlignedSample, cleanPlateOf } from '../../src/match/clean-plate.js'
import { CLIPPED, VALID } from '../../src/match/log-luminance.js'
import { normal } from '../synthetic.js'

const workspace = new Workspace()

const PIXELS = 60
const GRAIN = 0.02
/** log2 of the light from which all channels are at their top. */
const TOP = 0

interface Shown {
  /** How much more a frame was exposed than the common light, stops. */
  readonly opened: number
  /** log2 luminance in the common light. */
  readonly light: number
}

/** A frame as a camera keeps it: what lies above the top is cut off and marked. */
function shot(frame: number, { opened, light }: Shown): AlignedSample {
  const grain = normal(frame + 1)
  const seen = Float32Array.from({ length: PIXELS }, () => light + opened + GRAIN * grain())
  return {
    aligned: seen.map((v) => Math.min(v, TOP)),
    validity: Uint8Array.from(seen, (v) => (v >= TOP ? CLIPPED : VALID)),
    exposure: -opened,
  }
}

function levelOf(frames: readonly Shown[]): number {
  const samples = frames.map((f, k) => shot(k, f))
  const { level } = cleanPlateOf(workspace, samples, PIXELS, 0.004)
  return level.reduce((sum, v) => sum + v, 0) / PIXELS
}

const times = (n: number, shown: Shown) => Array.from({ length: n }, () => shown)

/** A whitewashed wall in the common light. */
const WALL = -0.2

describe('a wall that most frames clip', () => {
  test('is what the frames show that were exposed less, in whatever order they come', () => {
    const opened = times(60, { opened: 0.7, light: WALL })
    const before = times(30, { opened: -0.3, light: WALL })
    expect(levelOf([...before, ...opened])).toBeCloseTo(WALL, 2)
    expect(levelOf([...opened, ...before])).toBeCloseTo(WALL, 2)
  })

  test('is that however far the iris opens, as long as it clips at all', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.5, max: 3, noNaN: true }),
        fc.integer({ min: 8, max: 40 }),
        (stops, few) => {
          const frames = [
            ...times(few, { opened: -0.5, light: WALL }),
            ...times(60, { opened: stops, light: WALL }),
          ]
          expect(Math.abs(levelOf(frames) - WALL)).toBeLessThan(0.03)
        },
      ),
      { numRuns: 30 },
    )
  })

  test('is that where somebody dark stands in some of those frames', () => {
    const frames = [
      ...times(60, { opened: 0.7, light: WALL }),
      ...times(24, { opened: -0.3, light: WALL }),
      ...times(12, { opened: -0.3, light: -3 }),
    ]
    expect(Math.abs(levelOf(frames) - WALL)).toBeLessThan(0.03)
  })

  test('is left at its top where fewer than eight frames tell', () => {
    const frames = [...times(60, { opened: 0.7, light: WALL }), ...times(7, { opened: -0.3, light: WALL })]
    expect(levelOf(frames)).toBeCloseTo(TOP - 0.7, 2)
  })
})

test('a sky that clips in blue is not somebody in white who passes at the same exposure', () => {
  const sky: AlignedSample[] = times(60, { opened: 0, light: -0.6 }).map((shown, k) => ({
    ...shot(k, shown),
    validity: new Uint8Array(PIXELS).fill(CLIPPED),
  }))
  const white = times(20, { opened: 0, light: -0.1 }).map((shown, k) => shot(100 + k, shown))
  for (const { validity } of white) expect(validity.includes(CLIPPED)).toBe(false)
  const { level } = cleanPlateOf(workspace, [...sky, ...white], PIXELS, 0.004)
  for (const v of level) expect(Math.abs(v + 0.6)).toBeLessThan(0.03)
})

test('where only few of the frames that agree clip, the level is the same to the last bit', () => {
  const frames = [...times(40, { opened: 0.1, light: -2 }), ...times(30, { opened: -0.4, light: -2 })]
  const samples = frames.map((f, k) => shot(k, f))
  const some = samples.map((s, k) =>
    k % 5 === 0 ? { ...s, validity: Uint8Array.from(s.validity, () => CLIPPED) } : s,
  )
  const all = cleanPlateOf(workspace, samples, PIXELS, 0.004)
  expect(cleanPlateOf(workspace, some, PIXELS, 0.004)).toEqual(all)
})
