// Planted truth: a wall that is out of focus by a Gaussian that we chose in the first half of a plate, and sharp in the second.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { FinishMeter } from '../../../src/repair/finish/meter.js'
import type { GrainModel } from '../../../src/repair/grain/model.js'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { grainRound, knowGrain, type PlateGrain } from '../../../src/repair/hide/plate-grain.js'
import { openRepair, type RepairedFrame, type RepairJob } from '../../../src/repair/repair.js'
import type { Candidate } from '../../../src/search/result.js'
import { writePatchFolder } from '../../../src/sheet/patch-folder.js'
import { writeCodes } from '../../codes.js'
import { grainOf, texturedWall } from '../../synthetic.js'
import { BOX, resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-sharpness-'))
afterAll(() => rmSync(folder, { recursive: true }))

const [W, H] = [160, 120]
const HALF = 6
const SIGMA = 0.8
const NOISE = 0.02
const WHIPPED = 1010

/** Green of the wall behind a Gaussian, summed over a square in plain words. */
function light(sigma: number): Float32Array {
  const wall = texturedWall(3, 5)
  const reach = Math.ceil(4 * sigma)
  const out = new Float32Array(W * H)
  for (let y = 0, i = 0; y < H; y++)
    for (let x = 0; x < W; x++, i++) {
      let [sum, weight] = [0, 0]
      for (let v = -reach; v <= reach; v++)
        for (let u = -reach; u <= reach; u++) {
          const w = sigma > 0 ? Math.exp(-(u * u + v * v) / (2 * sigma * sigma)) : 1
          sum += w * wall(x + u, y + v)
          weight += w
        }
      out[i] = sum / weight
    }
  return out
}

/** The wall while the camera moves by so many pixels. */
function swept(of: Float32Array, px: number): Float32Array {
  return of.map((_, i) => {
    const x = i % W
    let sum = 0
    for (let k = 0; k < px; k++) sum += of[i - x + Math.min(W - 1, Math.max(0, x + k - (px >> 1)))] / px
    return sum
  })
}

const [soft, sharp] = [light(SIGMA), light(0)]
const whipped = swept(sharp, 8)
beforeAll(async () => {
  mkdirSync(join(folder, 'plate'))
  mkdirSync(join(folder, 'softer'))
  for (let f = 0; f < 2 * HALF; f++) {
    const of = f === WHIPPED - 1001 ? whipped : f < HALF ? soft : sharp
    const grain = grainOf(100 + f, 3 * W * H)
    // Grain is the sensor's, so that no lens blurs it.
    const rgb = Float32Array.from(grain, (g, i) => of[Math.floor(i / 3)] * (1 + NOISE * g))
    await writeCodes(join(folder, 'plate', `quay.${1001 + f}.png`), rgb, W, H)
  }
})

/** All that lend to one job: grain is measured once for it. */
let job: RepairJob
let sharper: Candidate
let softer: Candidate
beforeAll(async () => {
  const pairs = [
    { target: 1002, donor: 1009 },
    { target: 1003, donor: 1009 },
    { target: 1008, donor: 1002 },
    { target: 1009, donor: 1003 },
    { target: WHIPPED, donor: 1011 },
  ]
  const { result, candidate } = resultFor(join(folder, 'plate'), pairs, { frames: 2 * HALF })
  job = await openRepair({ ...result, region: { ...result.region, surround: 24 } })
  // What the search found of their detail.
  sharper = { ...candidate, sharpness: 1.5, frames: candidate.frames.slice(0, 2) }
  softer = { ...candidate, sharpness: 0.7, frames: candidate.frames.slice(2) }
})

async function made(candidate: Candidate, addGrain: boolean): Promise<RepairedFrame[]> {
  const pass = new HidePass(job, candidate, { addGrain })
  const out: RepairedFrame[] = []
  for (const match of candidate.frames) out.push(await pass.repair(match))
  return out
}

/** Inside the mask, over all frames, dB below full light. */
function psnr(frames: readonly RepairedFrame[], truth: Float32Array): number {
  let [sum, n] = [0, 0]
  for (const { rect, patch } of frames)
    for (let y = BOX[1]; y < BOX[1] + BOX[3]; y++)
      for (let x = BOX[0]; x < BOX[0] + BOX[2]; x++, n++)
        sum += (patch.data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1] - truth[y * W + x]) ** 2
  return -10 * Math.log10(sum / n)
}

describe('a donor that is sharper than its target', () => {
  test('is blurred by what sets them apart to a tenth, and comes nearer to what is truly there', async () => {
    const { blurPx, softerPx } = await new HidePass(job, sharper).sharpness()
    expect(Math.abs(blurPx / SIGMA - 1)).toBeLessThan(0.1)
    expect(softerPx).toBe(0)
    // Where the search finds both alike the donor is lent as it is.
    const [asLent, matched] = [await made({ ...sharper, sharpness: 1 }, false), await made(sharper, false)]
    expect(psnr(matched, soft)).toBeGreaterThan(psnr(asLent, soft) + 10)
  })

  test('has then as much grain as the plate again, and it changes as the plate’s does', async () => {
    const meter = await FinishMeter.over(job)
    const all = await made(sharper, true)
    for (const [i, { target }] of sharper.frames.entries()) meter.add(target, all[i])
    const { frames, whole } = meter.done()
    for (const { detail } of frames.values()) expect(Math.abs(detail! - 1)).toBeLessThan(0.1)
    expect(Math.abs(whole.flicker! - 1)).toBeLessThan(0.1)
  })
})

describe('where a codec has left other grain on the region than beside it', () => {
  const under = async (grain: Partial<PlateGrain>) => {
    const coded = await openRepair(job.result)
    knowGrain(coded, { ...(await grainRound(job))!, ...grain })
    return (await new HidePass(coded, sharper).sharpness()).blurPx
  }
  const times = (factor: number, model: GrainModel): GrainModel => {
    const [r, g, b] = model.level
    return { ...model, level: [factor * r, factor * g, factor * b] }
  }

  test('a donor is blurred as long as both tell of it', async () => {
    const { beside } = (await grainRound(job))!
    expect(Math.abs((await under({ within: times(0.9, beside) })) / SIGMA - 1)).toBeLessThan(0.2)
  })

  test('it is lent as it is where under either of them nothing is told', async () => {
    const { beside } = (await grainRound(job))!
    expect(await under({ within: times(20, beside) })).toBe(0)
    expect(await under({ beside: times(20, beside), within: beside })).toBe(0)
  })
})

test('a donor that is softer is lent as it is, and by how much it is softer is known to a tenth', async () => {
  const { blurPx, softerPx } = await new HidePass(job, softer).sharpness()
  expect(blurPx).toBe(0)
  expect(Math.abs(softerPx / SIGMA - 1)).toBeLessThan(0.1)
  const [looked, asLent] = [await made(softer, false), await made({ ...softer, sharpness: 1 }, false)]
  expect(looked[0].patch.data).toEqual(asLent[0].patch.data)
})

test('what is not mended is said: donors that are softer, and a frame that is blurred by the camera’s movement', async () => {
  const patch = await writePatchFolder(join(folder, 'softer'), job, softer)
  expect(patch.sharpness).toMatchObject({ blur: 0 })
  expect(patch.frames.map((f) => f.motionBlur)).toEqual([undefined, undefined, 'plate'])
  expect(patch.warnings).toContain(
    `on frame ${WHIPPED} the plate is blurred in one direction, as by the camera's movement, and the donor is not`,
  )
  expect(patch.warnings.join()).toMatch(
    /the donors are softer than the plate, as by a blur of 0\.[78]\d px \(sigma\): the patch is not sharpened/,
  )
})
