import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { align, HELD_SIGMA } from '../../src/match/align.js'
import { prepareReference } from '../../src/match/reference.js'
import { type Plane, plane } from '../../src/raster/plane.js'
import { random as mulberry, texturedWall, wallPlane } from '../synthetic.js'

const workspace = new Workspace()

const RECT = { x: 40, y: 30, w: 76, h: 66 }
/** A ring 20 px wide round a hole: the region, which is never looked at. */
const RING = Float32Array.from({ length: RECT.w * RECT.h }, (_, i) => {
  const x = i % RECT.w
  const y = Math.floor(i / RECT.w)
  return x >= 20 && x < RECT.w - 20 && y >= 20 && y < RECT.h - 20 ? 0 : 1
})

function around(reach: number) {
  return { x: RECT.x - reach, y: RECT.y - reach, w: RECT.w + 2 * reach, h: RECT.h + 2 * reach }
}

describe('the sign rule', () => {
  test('a white dot moved by (3, -2) is found at { dx: -3, dy: 2 }: that is the way back', () => {
    const size = 24
    const target = plane(0, 0, size, size)
    target.data[12 * size + 10] = 1
    const donor = plane(-4, -4, size + 8, size + 8)
    donor.data[(12 - 2 + 4) * donor.width + 10 + 3 + 4] = 1
    const everywhere = new Float32Array(size * size).fill(1)
    const found = align(workspace, prepareReference(workspace, target, everywhere, 4), donor, 4)!
    expect(found.dx).toBeCloseTo(-3, 2)
    expect(found.dy).toBeCloseTo(2, 2)
  })
})

describe('a frame moved by the camera', () => {
  const moved = fc.record({
    reach: fc.constantFrom(2, 4, 8, 16),
    sx: fc.double({ min: -1, max: 1, noNaN: true }),
    sy: fc.double({ min: -1, max: 1, noNaN: true }),
    stops: fc.double({ min: -2, max: 2, noNaN: true }),
    noise: fc.constantFrom(0, 0.02, 0.05),
    start: fc.integer({ min: 1, max: 1e6 }),
  })

  test('is found to 0.05 px, in any light, with grain in both', () => {
    fc.assert(
      fc.property(moved, ({ reach, sx, sy, stops, noise, start }) => {
        const [dx, dy] = [sx * reach, sy * reach]
        const wall = texturedWall(start)
        const target = wallPlane(wall, RECT, { noise, start: start + 1 })
        const donor = wallPlane(wall, around(reach), { dx: -dx, dy: -dy, stops, noise, start: start + 2 })
        const before = donor.data.slice()
        const found = align(workspace, prepareReference(workspace, target, RING, reach), donor, reach)!
        expect(Math.abs(found.dx - dx)).toBeLessThan(0.05)
        expect(Math.abs(found.dy - dy)).toBeLessThan(0.05)
        expect(found.sigma).toBeLessThan(0.05)
        expect(donor.data).toEqual(before)
      }),
      { seed: 11, numRuns: 25 },
    )
  }, 20_000)

  const wall = texturedWall(77)
  const reference = wallPlane(wall, RECT, { noise: 0.02, start: 5 })
  const prepared = prepareReference(workspace, reference, RING, 8)
  const donorAt = (dx: number, dy: number, start = 6) =>
    wallPlane(wall, around(8), { dx: -dx, dy: -dy, noise: 0.02, start })
  const expectAt = (found: { dx: number; dy: number } | null, dx: number, dy: number, within = 0.05) => {
    expect(Math.abs(found!.dx - dx)).toBeLessThan(within)
    expect(Math.abs(found!.dy - dy)).toBeLessThan(within)
  }

  test('is found where it is whatever stands in the region', () => {
    const donor = donorAt(3.25, -1.5)
    for (let i = 0; i < donor.data.length; i++) {
      const x = (i % donor.width) - 8
      const y = Math.floor(i / donor.width) - 8
      // Kept off the ring by the movement and the filter.
      if (x >= 26 && x < RECT.w - 30 && y >= 28 && y < RECT.h - 26) donor.data[i] = 3
    }
    expectAt(align(workspace, prepared, donor, 8), 3.25, -1.5)
  })

  test('is found with a passer-by over a seventh of the surround', () => {
    const donor = donorAt(-2.4, 0.8)
    for (let y = 0; y < donor.height; y++) for (let x = 10; x < 21; x++) donor.data[y * donor.width + x] = -5
    expectAt(align(workspace, prepared, donor, 8), -2.4, 0.8)
  })

  test('is found the same with a quarter of the surround masked', () => {
    const masked = RING.map((w, i) => (i % RECT.w >= 57 ? 0 : w))
    expectAt(
      align(workspace, prepareReference(workspace, reference, masked, 8), donorAt(5.3, -6.1), 8),
      5.3,
      -6.1,
    )
  })

  test('is found from a near guess just as from nothing', () => {
    const donor = donorAt(1.7, 2.2)
    const free = align(workspace, prepared, donor, 8)!
    expectAt(align(workspace, prepared, donor, 8, { guess: { dx: 1.2, dy: 2.6 } }), free.dx, free.dy, 0.02)
  })

  test('moves by the negative when target and donor change places', () => {
    const there = align(workspace, prepared, donorAt(2.3, 1.1), 8)!
    const small = wallPlane(wall, RECT, { dx: -2.3, dy: -1.1, noise: 0.02, start: 6 })
    const wide = wallPlane(wall, around(8), { noise: 0.02, start: 5 })
    const back = align(workspace, prepareReference(workspace, small, RING, 8), wide, 8)!
    expectAt(back, -there.dx, -there.dy)
  })

  test('that has not moved stays where it is, with a reach of 0 too', () => {
    expectAt(align(workspace, prepared, donorAt(0, 0), 8), 0, 0)
    const still = prepareReference(workspace, reference, RING, 0)
    const same = wallPlane(wall, around(0), { noise: 0.02, start: 6 })
    expectAt(align(workspace, still, same, 0), 0, 0)
  })

  test('over a plain floor is found by the few lines painted on it', () => {
    const line = (across: number) => Math.exp(-((across / 1.5) ** 2))
    const floor = (x: number, y: number) => 0.2 * 2 ** (line(x + 0.2 * y - 55) + line(y - 0.3 * x - 15))
    const random = mulberry(41)
    for (let k = 0; k < 12; k++) {
      const [dx, dy] = [16 * random() - 8, 16 * random() - 8]
      const target = wallPlane(floor, RECT, { noise: 0.003, start: k })
      const donor = wallPlane(floor, around(8), { dx: -dx, dy: -dy, noise: 0.003, start: 100 + k })
      expectAt(align(workspace, prepareReference(workspace, target, RING, 8), donor, 8), dx, dy, 0.02)
    }
  })

  test('further than the reach is never reported beyond it', () => {
    for (const [dx, dy] of [
      [14, 0],
      [-3, 12],
      [40, 40],
    ]) {
      const found = align(workspace, prepared, donorAt(dx, dy), 8)!
      expect(Math.max(Math.abs(found.dx), Math.abs(found.dy))).toBeLessThanOrEqual(8.5)
    }
  })
})

describe('a surround that holds nothing', () => {
  test('of too few pixels has no alignment at all', () => {
    const few = new Float32Array(RING.length)
    few[100] = 1
    const flat = plane(RECT.x, RECT.y, RECT.w, RECT.h)
    expect(align(workspace, prepareReference(workspace, flat, few, 4), flat, 4)).toBeNull()
  })

  const fill = (
    rect: { x: number; y: number; w: number; h: number },
    value: (i: number) => number,
  ): Plane => {
    const out = plane(rect.x, rect.y, rect.w, rect.h)
    for (let i = 0; i < out.data.length; i++) out.data[i] = value(i)
    return out
  }
  const PICTURES: { title: string; value: (i: number) => number }[] = [
    { title: 'constant', value: () => -2 },
    { title: 'saturated', value: () => 16 },
    { title: 'black', value: () => -12 },
    { title: 'one textured pixel', value: (i) => (i === 333 ? 5 : 0) },
    { title: 'denormal', value: (i) => (i % 7) * 1e-44 },
    { title: 'a huge step', value: (i) => (i % 60 < 30 ? -127 : 127) },
  ]
  test.each(PICTURES.flatMap((a) => PICTURES.map((b) => ({ a, b }))))(
    '$a.title against $b.title gives a finite offset within the reach',
    ({ a, b }) => {
      const found = align(
        workspace,
        prepareReference(workspace, fill(RECT, a.value), RING, 8),
        fill(around(8), b.value),
        8,
      )!
      expect(Number.isFinite(found.dx) && Number.isFinite(found.dy)).toBe(true)
      expect(Math.max(Math.abs(found.dx), Math.abs(found.dy))).toBeLessThanOrEqual(8.5)
      expect(Number.isNaN(found.sigma)).toBe(false)
    },
  )

  test('flat on either side is left where it is', () => {
    const flat = () => -2
    const found = align(
      workspace,
      prepareReference(workspace, fill(RECT, flat), RING, 8),
      fill(around(8), flat),
      8,
    )!
    expect({ dx: found.dx, dy: found.dy }).toEqual({ dx: 0, dy: 0 })
  })
})

describe('grain', () => {
  const noisy = (x0: number, size: number, edgeAt: number | null, random: () => number) => {
    const made = plane(x0, x0, size, size)
    for (let i = 0; i < made.data.length; i++) {
      const lit = edgeAt !== null && (i % size) + x0 > edgeAt ? 1 : 0
      made.data[i] = lit + 0.04 * (random() + random() + random() - 1.5)
    }
    return made
  }
  const all = new Float32Array(80 * 80).fill(1)

  test('beside one upright edge moves the offset across the edge only', () => {
    const random = mulberry(11)
    for (let k = 0; k < 4; k++) {
      const found = align(
        workspace,
        prepareReference(workspace, noisy(20, 80, 60, random), all, 8),
        noisy(0, 120, 60, random),
        8,
      )!
      expect(Math.abs(found.dx)).toBeLessThan(0.05)
      expect(Math.abs(found.dy)).toBeLessThan(0.05)
      expect(found.sigma).toBeLessThanOrEqual(HELD_SIGMA)
    }
  })

  test('on a bare wall holds nothing', () => {
    const random = mulberry(12)
    for (let k = 0; k < 4; k++) {
      const found = align(
        workspace,
        prepareReference(workspace, noisy(20, 80, null, random), all, 8),
        noisy(0, 120, null, random),
        8,
      )!
      expect(found.sigma).toBeGreaterThan(HELD_SIGMA)
    }
  })
})
