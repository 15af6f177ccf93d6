// A shadow that passes over a wall before a camera that turns, by matrices that are known: lifted from there it is the planted
// one, on every target frame.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { apply, compose, invert, placementOf } from '../../../src/raster/transform.js'
import { LightingPass } from '../../../src/repair/lighting/lighting-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate, Result, StackShare } from '../../../src/search/result.js'
import { type Moving, plantMoving, turned } from '../../moving.js'
import { patch } from '../../search/shaded.js'
import { resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-turned-light-'))
afterAll(() => rmSync(folder, { recursive: true }))

const SIZE = { width: 240, height: 180, frames: 26 }
const BOX = { x: 96, y: 68, w: 48, h: 44 }
const PEAK = 1017
const UNLIT = [1006, 1007, 1008, 1009, 1010, 1011, 1023, 1024, 1025, 1026]
const CAMERA = (i: number) =>
  turned({ pan: 0.012 * i, tilt: -0.004 * i, roll: 0.004 * i, zoom: 1 + 0.002 * i })
const shade = patch({ stops: -0.62, peak: PEAK - 1001, x: 120, y: 90, radius: 24 })

let plate: Moving
let result: Result
let candidate: Candidate
beforeAll(async () => {
  plate = await plantMoving(join(folder, 'quay'), { ...SIZE, toFrame: CAMERA, shade })
  const lendings = [0, 1, 2].map((i) => ({ target: 1001 + i, donor: PEAK - 1 + i }))
  ;({ result, candidate } = resultFor(plate.folder, lendings, { ...SIZE, box: [BOX.x, BOX.y, BOX.w, BOX.h] }))
  candidate.moment = {
    ...{ donor: 0, start: PEAK - 3, peak: PEAK, end: PEAK + 3, what: 'light', sign: 'darker' },
    ...{ depthStops: 0.62, coverage: 0.8, surface: 0.97, colour: [1, 1, 1] },
    quiet: UNLIT,
    quietState: UNLIT.map((frame) => ({
      ...{ plate: 0, frame, gain: [1, 1, 1], weight: 1 / UNLIT.length },
      ...placed(frame, PEAK),
    })),
  }
  for (const match of candidate.frames) {
    Object.assign(match, placed(match.donor, match.target))
    match.quiet = { ...placed(PEAK, match.target), gain: [1, 1, 1] }
  }
}, 60_000)

/** What moves one frame onto another. */
function placed(from: number, onto: number) {
  const t = compose(plate.toFrame(onto), invert(plate.toFrame(from)))
  const { dx, dy } = placementOf(t, BOX)
  return { dx, dy, transform: [...t] as NonNullable<StackShare['transform']> }
}

/** RMS difference of the lifted factors from the planted ones inside the mask, frame by frame. */
async function errorsOf(from: Candidate): Promise<number[]> {
  const job = await openRepair({ ...result, aim: 'hide', candidates: [from] })
  const pass = new LightingPass(job, from)
  const errors: number[] = []
  for (const match of from.frames) {
    const { rect, mask, ratio } = await pass.lift(match, { fade: { in: 0, out: 0 } })
    const toWall = invert(plate.toFrame(match.target))
    let [sum, n] = [0, 0]
    for (let i = 0; i < mask.length; i++) {
      if (mask[i] < 1) continue
      const { x, y } = apply(toWall, rect.x + (i % rect.w), rect.y + Math.floor(i / rect.w))
      const truth = 2 ** shade(x, y, match.donor - 1001)
      for (let c = 3 * i; c < 3 * i + 3; c++, n++) sum += (ratio.data[c] / truth - 1) ** 2
    }
    errors.push(Math.sqrt(sum / n))
  }
  return errors
}

test('its ratio is the planted one to 2 % RMS on every target frame', async () => {
  for (const error of await errorsOf(candidate)) expect(error).toBeLessThan(0.02)
}, 30_000)

test('placed by its offsets alone it is not: the wall itself would be lifted with it', async () => {
  const flat = structuredClone(candidate)
  for (const match of flat.frames) {
    delete match.transform
    delete match.quiet!.transform
  }
  for (const share of flat.moment!.quietState!) delete share.transform
  expect(Math.max(...(await errorsOf(flat)))).toBeGreaterThan(0.025)
}, 30_000)
