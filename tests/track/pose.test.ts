// Planted: the wall is a formula, so where each frame lies is known to the last digit.
import { describe, expect, test } from 'vitest'
import { smooth } from '../../src/kernels/pyramid.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { HELD_SIGMA } from '../../src/match/align.js'
import { prepareReference } from '../../src/match/reference.js'
import type { Plane } from '../../src/raster/plane.js'
import { grow } from '../../src/raster/rect.js'
import { shiftOf } from '../../src/raster/transform.js'
import { isLocked, type Pose, poseOf } from '../../src/track/pose.js'
import { texturedWall, type Wall, wallPlane } from '../synthetic.js'

const workspace = new Workspace()
const RECT = { x: 40, y: 30, w: 90, h: 80 }
const REACH = 8
const AROUND = grow(RECT, REACH)
const NOISE = 0.02
/** Of so many waves that no other place is like this one by chance. */
const parts = [3, 4, 5, 6].map((start) => texturedWall(start))
const wall: Wall = (x, y) => 0.2 * parts.reduce((light, part) => light * Math.sqrt(part(x, y) / 0.2), 1)
const reference = prepareReference(
  workspace,
  wallPlane(wall, RECT, { noise: NOISE, start: 1 }),
  new Float32Array(RECT.w * RECT.h).fill(1),
  REACH,
)

const frame = (dx: number, dy: number, start: number, of: Wall = wall) =>
  wallPlane(of, AROUND, { dx, dy, noise: NOISE, start })

const poseIn = (log: Plane) => poseOf(workspace, reference, log, smooth(workspace, log), REACH)

/** Somebody in a plain coat over the left part of a frame. */
function crossed(log: Plane, share: number): Plane {
  for (let i = 0; i < log.data.length; i++) if (i % log.width < share * log.width) log.data[i] = -4
  return log
}

const many = (make: (k: number) => Plane): Pose[] => Array.from({ length: 12 }, (_, k) => poseIn(make(k)))

describe('a frame', () => {
  test('that the camera moved is put back where it belongs, and its pose earns its keep', () => {
    const pose = poseIn(frame(2.3, -1.2, 7))
    const { dx, dy } = shiftOf(pose.transform, RECT)
    expect(Math.hypot(dx + 2.3, dy - 1.2)).toBeLessThan(0.03)
    expect(pose).toMatchObject({ earns: true, still: false })
    expect(pose.sigma).toBeLessThan(0.03)
  })

  test('that did not move is still', () => {
    expect(poseIn(frame(0, 0, 8))).toMatchObject({ earns: false, still: true })
  })

  test('that did not move is still with somebody before two fifths of it', () => {
    const pose = poseIn(crossed(frame(0, 0, 9), 0.4))
    expect(pose).toMatchObject({ earns: false, still: true })
  })

  test('that shows another place altogether is nowhere: neither moved nor still', () => {
    for (let k = 0; k < 6; k++) {
      const pose = poseIn(frame(300 + 90 * k, -200, 20 + k))
      expect(pose).toMatchObject({ earns: false, still: false })
      expect(pose.sigma).toBeGreaterThan(HELD_SIGMA)
    }
  })
})

describe('a camera', () => {
  test('that stood still is locked off, with grain in every frame', () => {
    expect(
      isLocked(
        many((k) => frame(0, 0, 40 + k)),
        RECT,
      ),
    ).toBe(true)
  })

  test('that stood still is locked off though people cross every second frame', () => {
    const poses = many((k) => crossed(frame(0, 0, 60 + k), k % 2 === 0 ? 0.45 : 0))
    expect(isLocked(poses, RECT)).toBe(true)
  })

  test('that swayed is not', () => {
    const poses = many((k) => frame(2 * Math.sin(k), 1.5 * Math.cos(k), 80 + k))
    expect(isLocked(poses, RECT)).toBe(false)
  })

  test('that panned further than is looked for is not: most of its frames show another place', () => {
    const poses = many((k) => frame(40 * k, 0, 100 + k))
    expect(isLocked(poses, RECT)).toBe(false)
  })

  test('of whose frames nothing is known is not', () => {
    const lost = { sigma: Number.POSITIVE_INFINITY, earns: false, still: false }
    const { transform } = poseIn(frame(0, 0, 8))
    expect(isLocked(Array<Pose>(5).fill({ transform, ...lost }), RECT)).toBe(false)
  })
})
