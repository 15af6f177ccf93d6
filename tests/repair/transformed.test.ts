// Donors that turn, grow and tilt, by matrices that are known: what is lent is the wall that stands there, on every kind of
// candidate, from plates of another size, under a mask that rides along.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import {
  apply,
  compose,
  invert,
  placementOf,
  shift,
  type Transform,
  transformOf,
} from '../../src/raster/transform.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { nudged } from '../../src/repair/nudge.js'
import { mapPixels, pieceWeights } from '../../src/repair/pieces.js'
import { openRepair, type RepairedFrame, repairOf } from '../../src/repair/repair.js'
import { packPieces } from '../../src/search/piece-map.js'
import type { Candidate, Result, StackShare } from '../../src/search/result.js'
import { openShot } from '../../src/shot/open-shot.js'
import { type Moving, plantMoving, turned } from '../moving.js'
import { expectRefusal } from '../refusal.js'
import { allWeights } from '../region/all-weights.js'
import { roughWall } from '../rough-wall.js'
import { resultFor } from './job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-transformed-'))
afterAll(() => rmSync(folder, { recursive: true }))

const SIZE = { width: 240, height: 180, frames: 6 }
const BOX = { x: 100, y: 70, w: 40, h: 30 }
/** A tripod's move of a frame: a degree or two, and some zoom. */
const CAMERA = (i: number) => turned({ pan: 0.03 * i, tilt: -0.01 * i, roll: 0.015 * i, zoom: 1 + 0.012 * i })
type Nine = NonNullable<StackShare['transform']>

let plate: Moving
let twice: Moving
beforeAll(async () => {
  const stands = { x: 103, y: 72, w: 30, h: 24, on: (i: number) => i === 0 }
  plate = await plantMoving(join(folder, 'tripod'), { ...SIZE, toFrame: CAMERA, occluder: stands })
  const toFrame = (i: number) => compose([2.05, 0.05, -12, -0.05, 2.05, 9, 0, 0, 1], CAMERA(i))
  twice = await plantMoving(join(folder, 'twice'), { width: 480, height: 360, frames: 3, toFrame, start: 9 })
}, 60_000)

/** What takes a frame of a plate onto the target frame. */
function onTarget(from: Moving, frame: number, target = 1001): Nine {
  return [...compose(plate.toFrame(target), invert(from.toFrame(frame)))] as Nine
}

function placed(t: Transform) {
  const { dx, dy } = placementOf(t, BOX)
  return { dx, dy, transform: [...t] as Nine }
}

function resultOf(target = 1001, donor = 1005): { result: Result; candidate: Candidate } {
  const made = resultFor(plate.folder, [{ target, donor }], { ...SIZE, box: [BOX.x, BOX.y, BOX.w, BOX.h] })
  Object.assign(made.candidate.frames[0], placed(onTarget(plate, donor, target)))
  return made
}

/** RMS difference from the wall inside the mask, as a share of its light. */
function errorOf({ rect, patch, mask }: RepairedFrame, target = 1001): number {
  const toWall = invert(plate.toFrame(target))
  let [sum, n] = [0, 0]
  for (let i = 0; i < mask.length; i++) {
    if (mask[i] < 1) continue
    const place = apply(toWall, rect.x + (i % rect.w), rect.y + Math.floor(i / rect.w))
    const truth = 2 ** roughWall(place.x, place.y)
    for (let c = 3 * i; c < 3 * i + 3; c++, n++) sum += (patch.data[c] / truth - 1) ** 2
  }
  return Math.sqrt(sum / n)
}

async function lentBy(result: Result, candidate = result.candidates[0]): Promise<RepairedFrame> {
  return repairFrame(await openRepair(result), candidate, candidate.frames[0], { addGrain: false })
}

describe('a patch', () => {
  test('of a donor from a turned, zoomed camera is the wall and its grain, and by its offset alone is not', async () => {
    const { result, candidate } = resultOf()
    // Grain is 1 %.
    expect(errorOf(await lentBy(result))).toBeLessThan(0.0125)
    const { transform, ...flat } = candidate.frames[0]
    expect(transform).toBeDefined()
    expect(
      errorOf(await lentBy({ ...result, candidates: [{ ...candidate, frames: [flat] }] })),
    ).toBeGreaterThan(0.03)
  })

  test('of a stack is their mean, with half of the grain of each', async () => {
    const { result, candidate } = resultOf()
    candidate.frames[0].stack = [1003, 1004, 1005, 1006].map((frame) => ({
      plate: 0,
      frame,
      ...placed(onTarget(plate, frame)),
      gain: [1, 1, 1],
      weight: 0.25,
    }))
    expect(errorOf(await lentBy(result))).toBeLessThan(0.006)
  })

  test('of a take at twice the size has less grain and no moire, and its size may differ from the target', async () => {
    const { result, candidate } = resultOf()
    const { frames, first, last } = { frames: 3, first: 1001, last: 1003 }
    result.donors.push({ plate: twice.folder, first, last, frames, size: [480, 360], encoding: 'srgb' })
    Object.assign(candidate.frames[0], { plate: 1, donor: 1002, ...placed(onTarget(twice, 1002)) })
    expect(errorOf(await lentBy(result))).toBeLessThan(0.007)
    result.donors[1].size = undefined
    await expectRefusal(() => openRepair(result), {
      code: 'PLATE_CHANGED',
      exitCode: 1,
      says: ['480 x 360', '240 x 180'],
    })
  })

  test('moved by hand is moved on the target, whatever the donor does', async () => {
    const { result, candidate } = resultOf()
    const off = compose(shift(-1.5, 0.75), candidate.frames[0].transform!)
    Object.assign(candidate.frames[0], placed(off))
    expect(errorOf(await lentBy(result))).toBeGreaterThan(0.03)
    const job = await openRepair(result)
    const right = nudged(candidate, { dx: 1.5, dy: -0.75 }, job.target)
    expect(errorOf(await lentBy(result, right))).toBeLessThan(0.0125)
    expect(right.grain).toBe(candidate.grain)
  })

  test('is clear where the donor, turned, does not reach', async () => {
    const { result, candidate } = resultOf()
    const t = compose(shift(170, 0), onTarget(plate, 1005))
    Object.assign(candidate.frames[0], placed(t))
    const { rect, alpha } = await lentBy(result)
    let clear = 0
    for (let y = BOX.y; y < BOX.y + BOX.h; y++)
      for (let x = BOX.x; x < BOX.x + BOX.w; x++) {
        const from = apply(invert(t), x, y)
        const inside = from.x >= -0.5 && from.y >= -0.5 && from.x < 239.5 && from.y < 179.5
        if (!inside) clear++
        expect(alpha[(y - rect.y) * rect.w + x - rect.x] > 0).toBe(inside)
      }
    expect(clear).toBeGreaterThan(100)
  })
})

describe("a mosaic's map", () => {
  const workspace = new Workspace()
  // The left half is piece 0, the right half piece 1, on a grid of its own.
  const grid = { x: 50, y: 30, w: 80, h: 60 }
  const map = packPieces(
    Uint8Array.from({ length: 4800 }, (_, i) => (i % 80 < 40 ? 0 : 1)),
    grid,
  )
  const window = { x: 60, y: 40, w: 100, h: 70 }
  const t: Transform = [1.2, -0.15, 8, 0.15, 1.2, -14, 2e-4, 0, 1]

  test('lies where its transform lays it', () => {
    const labels = mapPixels(map, { dx: 0, dy: 0, transform: t }, window, 1)
    const [left, right] = pieceWeights(workspace, map, 2, { dx: 0, dy: 0, transform: t }, window)
    for (let i = 0; i < labels.length; i++) {
      const from = apply(invert(t), window.x + (i % window.w), window.y + Math.floor(i / window.w))
      const past = from.x - (grid.x + 39.5)
      if (Math.abs(past) > 0.01) expect(labels[i]).toBe(past < 0 ? 0 : 1)
      expect(left[i] + right[i]).toBeCloseTo(1, 5)
      // Two pixels of the grid either side pieces run into each other.
      if (Math.abs(past) > 2) expect(right[i]).toBeCloseTo(past < 0 ? 0 : 1, 5)
    }
  })

  test('laid by a shift is the same whether the shift is written as one or as a transform', () => {
    const [asShift, asTransform] = [
      { dx: 3.25, dy: -1.5 },
      { dx: 3.25, dy: -1.5, transform: shift(3.25, -1.5) },
    ]
    expect(mapPixels(map, asTransform, window, 2)).toEqual(mapPixels(map, asShift, window, 2))
    expect(pieceWeights(workspace, map, 2, asTransform, window)).toEqual(
      pieceWeights(workspace, map, 2, asShift, window),
    )
  })
})

describe('a mask drawn on one frame', () => {
  function riding(at: number, lost: readonly number[] = []): Result {
    const { result } = resultOf()
    const targets = [1001, 1003, 1005]
    const lendings = targets.map((target) => ({ target, donor: 1002 }))
    const made = resultFor(plate.folder, lendings, { ...SIZE, box: [BOX.x, BOX.y, BOX.w, BOX.h] }).result
    return {
      ...made,
      donors: result.donors,
      region: { ...made.region, at },
      camera: {
        model: 'homography',
        reference: 1002,
        frames: plate.frames.map((frame) => ({
          plate: 0,
          frame,
          pose: lost.includes(frame)
            ? null
            : ([...compose(plate.toFrame(1002), invert(plate.toFrame(frame)))] as Nine),
          sigma: 0.02,
        })),
      },
    }
  }

  /** A frame's mask covers what the box covers on frame `at`, as frame `as` shows it. */
  async function expectOnScenery(result: Result, frame: number, as = frame): Promise<void> {
    const { region } = await openRepair(result)
    const { inside } = region.frames.get(frame)!
    const toDrawn = compose(plate.toFrame(result.region.at!), invert(plate.toFrame(as)))
    let covered = 0
    for (let i = 0; i < inside.length; i++) {
      const x = region.window.x + (i % region.window.w)
      const p = apply(toDrawn, x, region.window.y + Math.floor(i / region.window.w))
      const within = Math.min(p.x - BOX.x, BOX.x + BOX.w - 1 - p.x, p.y - BOX.y, BOX.y + BOX.h - 1 - p.y)
      // Straight lines between weights reach over one pixel.
      if (within > 0.1) expect(inside[i]).toBe(1)
      if (within < -1.1) expect(inside[i]).toBe(0)
      if (inside[i] === 1) covered++
    }
    expect(covered).toBeGreaterThan(900)
  }

  test('covers the same of the wall on every target frame, whichever frame it was drawn on', async () => {
    for (const at of [1001, 1004])
      for (const frame of [1001, 1003, 1005]) await expectOnScenery(riding(at), frame)
  })

  test('lies, on a frame that was not followed, as on the nearest that was', async () => {
    await expectOnScenery(riding(1001, [1005, 1006]), 1005, 1004)
  })

  test('is clear on a frame that it has left', async () => {
    const result = riding(1001)
    const away = compose(shift(-400, 0), result.camera!.frames[4].pose!)
    result.camera!.frames[4].pose = [...away] as Nine
    const job = await openRepair(result)
    const [, , gone] = result.candidates[0].frames
    expect(gone.target).toBe(1005)
    const { alpha, repaired, target } = await repairFrame(job, result.candidates[0], gone)
    expect(alpha.every((a) => a === 0)).toBe(true)
    expect(repaired.data).toEqual(target.data)
  })

  test('of a sequence is that of the frame, and the same where the search is still open', async () => {
    const masks = join(folder, 'masks')
    mkdirSync(masks)
    for (const frame of [1003, 1004]) {
      const { data } = await sharp({ create: { width: 240, height: 180, channels: 3, background: 'black' } })
        .composite([
          {
            input: { create: { width: 20, height: 10, channels: 3, background: 'white' } },
            left: frame === 1004 ? 110 : 10,
            top: 80,
          },
        ])
        .png()
        .toBuffer({ resolveWithObject: true })
      writeFileSync(join(masks, `m.${frame}.png`), data)
    }
    const made = riding(1004)
    const result = {
      ...made,
      region: { ...made.region, mask: masks, box: [110, 80, 20, 10] as const },
    } as Result
    const frames = '1001-1005:2'
    const shot = await openShot({ target: plate.folder, frames, mask: masks, maskAt: 1004, surround: 16 })
    const [{ region }, again] = [repairOf(shot, result), await openRepair(result)]
    const { x, y } = apply(onTarget(plate, 1004, 1001), 120, 85)
    const { inside } = region.frames.get(1001)!
    const at = (Math.round(y) - region.window.y) * region.window.w + Math.round(x) - region.window.x
    expect(inside[at]).toBe(1)
    expect(inside.reduce((a, b) => a + b)).toBeLessThan(250)
    expect(allWeights(again.region)).toEqual(allWeights(region))
  })

  test('stays where it is in the frame where nothing says how the camera moved', async () => {
    const { camera, ...still } = riding(1001)
    expect(camera).toBeDefined()
    const { region } = await openRepair(still)
    expect(region.box).toEqual(BOX)
    for (const { inside } of region.frames.values())
      expect(inside.reduce((a, b) => a + b)).toBe(BOX.w * BOX.h)
  })
})

test('a donor placed by a shift is the same patch, to the last bit, whether its shift is written as a transform', async () => {
  const { result, candidate } = resultOf()
  const { transform, ...flat } = candidate.frames[0]
  expect(transformOf(flat)).not.toEqual(transform)
  const written = { ...flat, transform: [...shift(flat.dx, flat.dy)] as Nine }
  const [a, b] = [
    await lentBy(result, { ...candidate, frames: [flat] }),
    await lentBy(result, { ...candidate, frames: [written] }),
  ]
  expect(b.patch.data).toEqual(a.patch.data)
  expect(b.alpha).toEqual(a.alpha)
})
