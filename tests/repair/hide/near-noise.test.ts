// Planted truth: noise whose strength we chose, on a smooth and on a striped surface. And laws: which frames are asked.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { strengthFor } from '../../../src/repair/hide/lasting-strength.js'
import { nearestEmpty, noiseLevel } from '../../../src/repair/hide/near-noise.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { grainOf } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H] = [96, 80]
const inside = Float32Array.from({ length: W * H }, (_, i) =>
  i % W > 20 && i % W < 70 && i > 10 * W ? 1 : 0,
)

/** Linear RGB whose green's root has noise of a standard deviation that is so large beside its mean. */
function picture(sigma: number, root: (x: number) => number, light = 1): Float32Array {
  const noise = grainOf(5, W * H)
  const data = new Float32Array(3 * W * H)
  for (let i = 0; i < W * H; i++) data[3 * i + 1] = light * (root(i % W) * (1 + sigma * noise[i])) ** 2
  return data
}
const workspace = new Workspace()
const levelOf = (data: Float32Array) => noiseLevel(workspace, data, inside, W)!

describe('noise of a region', () => {
  test('is told to a twentieth on a surface that grows lighter from left to right', () => {
    for (const sigma of [0.004, 0.02, 0.08])
      expect(levelOf(picture(sigma, (x) => 0.4 + 0.001 * x)) / sigma).toBeCloseTo(1, 1)
  })

  test('is the same in half the light', () => {
    const [full, half] = [1, 0.5].map((light) => levelOf(picture(0.03, () => 0.5, light)))
    expect(half / full).toBeCloseTo(1, 4)
  })

  test('is none where it is dark', () => {
    expect(noiseLevel(workspace, new Float32Array(3 * W * H), inside, W)).toBeNull()
  })

  test('is met by the strength at which it is that, as far as twice its variance or half of it', () => {
    const levelAt = (strength: number) => Math.hypot(0.5, strength)
    expect(levelAt(strengthFor(levelAt, Math.hypot(0.5, 1.2)))).toBeCloseTo(Math.hypot(0.5, 1.2), 1)
    expect(strengthFor(levelAt, Math.hypot(0.5, 1))).toBe(1)
    expect(strengthFor(levelAt, 9)).toBeCloseTo(Math.SQRT2, 6)
    expect(strengthFor(levelAt, 0.1)).toBeCloseTo(Math.SQRT1_2, 6)
  })

  test('asks for no strength where it has no say, or nothing tells', () => {
    expect(strengthFor((strength) => 1 + 0.01 * strength, 2)).toBe(1)
    expect(strengthFor(() => null, 2)).toBe(1)
  })
})

describe('the frames that tell it', () => {
  const TARGETS = [1020, 1021, 1022]
  function planted(quality: (frame: number) => number | null, dx = 0): Result {
    const lendings = TARGETS.map((target) => ({ target, donor: 1030, dx }))
    const { result, candidate } = resultFor('plate', lendings, { frames: 60 })
    const frames = candidate.frames.map((f) => ({
      ...f,
      stack: [{ plate: 0, frame: 1030, dx, dy: 0, gain: [1, 1, 1] as [number, number, number], weight: 1 }],
    }))
    const stack: Candidate = { ...candidate, id: 'stack-1', kind: 'stack', frames }
    const all = Array.from({ length: 60 }, (_, i) => 1001 + i).filter((f) => !TARGETS.includes(f))
    const row = all.map(quality)
    const donors = all.map((frame) => ({ plate: 0, frame }))
    return {
      ...result,
      candidates: [stack],
      matrix: { targets: TARGETS, donors, quality: TARGETS.map(() => row) },
    }
  }

  test('are the nearest eight to either side that show it empty', () => {
    const occupied = (frame: number) => frame === 1019 || frame === 1024
    const found = nearestEmpty(planted((frame) => (occupied(frame) ? 20 : frame === 1018 ? null : 95)))
    expect(found).toEqual([
      1010, 1011, 1012, 1013, 1014, 1015, 1016, 1017, 1023, 1025, 1026, 1027, 1028, 1029, 1030, 1031,
    ])
  })

  test('are none where the camera sways, since moving a frame takes some of its noise', () => {
    expect(nearestEmpty(planted(() => 95, 0.4))).toEqual([])
  })
})
