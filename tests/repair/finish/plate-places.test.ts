// Planted truth: a wall that the camera sways before, and somebody in the region.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame } from '../../../src/raster/frame.js'
import { boxMask } from '../../../src/region/mask.js'
import { makeRegion } from '../../../src/region/region.js'
import { type PlateFrame, placeOfBefore } from '../../../src/repair/finish/plate-places.js'
import type { RepairJob } from '../../../src/repair/repair.js'
import { normal } from '../../synthetic.js'

const [W, H] = [160, 140]
const BOX = { x: 52, y: 46, w: 50, h: 44 }
const plate = { width: W, height: H }
const region = makeRegion(new Map([1001, 1002].map((f) => [f, boxMask(BOX, plate)])), plate, 24)
const { window } = region

function jobOf(): RepairJob {
  return { region, workspace: new Workspace(), target: { clipLevel: 10 }, result: {} } as unknown as RepairJob
}

/** Light of a wall with strokes in every direction, at any place. */
function wall(x: number, y: number): number {
  const strokes = Math.sin(x / 2.1 + y / 7) + Math.sin(y / 1.9 - x / 11) + Math.sin((x + y) / 3.3)
  return 0.2 + 0.03 * strokes
}

/** @param dx,dy by which the picture lies to the right and below @param inside light of what stands in the region */
function seen(number: number, dx: number, dy: number, inside: number, seed: number): PlateFrame {
  const picture = frame(window.h, window.w, 3)
  const grain = normal(seed)
  for (let y = 0, i = 0; y < window.h; y++)
    for (let x = 0; x < window.w; x++, i++) {
      const [u, v] = [x + window.x, y + window.y]
      const isInside = u >= BOX.x && v >= BOX.y && u < BOX.x + BOX.w && v < BOX.y + BOX.h
      const light = isInside ? inside + 0.1 * Math.sin(u / 2 + seed) : wall(u - dx, v - dy)
      for (let c = 0; c < 3; c++) picture.data[3 * i + c] = light + 0.002 * grain()
    }
  return { frame: number, picture, surround: region.frames.get(number)!.surround }
}

describe('the frame before is placed on a frame', () => {
  test.each([
    [1.3, -0.6],
    [-2.4, 3.1],
    [4, 0],
  ])('by (%d, %d) px, to 0.03 px, whoever stands in the region', (dx, dy) => {
    for (const inside of [0.02, 0.2, 0.9]) {
      const place = placeOfBefore(jobOf(), seen(1002, dx, dy, inside, 5), seen(1001, 0, 0, 0.5, 6))!
      expect(Math.hypot(place.dx - dx, place.dy - dy)).toBeLessThan(0.03)
      expect(place.response).not.toBeNull()
    }
  })

  test('as it is where the camera stands', () => {
    const place = placeOfBefore(jobOf(), seen(1002, 0, 0, 0.9, 5), seen(1001, 0, 0, 0.1, 6))
    expect(place).toEqual({ response: null, dx: 0, dy: 0 })
  })

  test('once for all candidates of a result', () => {
    const job = jobOf()
    const before = seen(1001, 0, 0, 0.5, 6)
    const first = placeOfBefore(job, seen(1002, 1.3, -0.6, 0.1, 5), before)
    // Of other pictures, which no candidate has, nothing is looked at.
    expect(placeOfBefore(job, seen(1002, -3, 2, 0.1, 5), before)).toBe(first)
    expect(placeOfBefore(jobOf(), seen(1002, -3, 2, 0.1, 5), before)!.dx).toBeCloseTo(-3, 1)
  })

  test('not at all where it is the same picture again', () => {
    const now = seen(1002, 0, 0, 0.1, 5)
    expect(placeOfBefore(jobOf(), now, { ...now, frame: 1001 })).toBeNull()
  })
})
