// Planted truth: what a donor does not have (samples that are no numbers, as beyond a data window) is not what it has of black,
// as between the lamps of a night, and neither may stand for the other.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { motionBlurOf } from '../../../src/repair/hide/motion-blur.js'
import { grainRound } from '../../../src/repair/hide/plate-grain.js'
import { openRepair } from '../../../src/repair/repair.js'
import { grainOf, texturedWall, writeFloatTiff } from '../../synthetic.js'
import { BOX, resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-black-'))
afterAll(() => rmSync(folder, { recursive: true }))

const [W, H] = [160, 120]
const FRAMES = 8
const WHIPPED = 1004
const DONOR = 1006
const wall = texturedWall(3, 5)

/** Lamps on a wall of which a quarter and more is black, (0, 0, 0). */
const night = (x: number, y: number) => Math.max(0, wall(x, y) - 0.16)
/** How far the camera moves while the shutter is open on one frame, pixels. */
const SWEEP_PX = 8
const swept = (of: typeof wall) => (x: number, y: number) => {
  let sum = 0
  for (let k = 0; k < SWEEP_PX; k++) sum += of(x + k - SWEEP_PX / 2, y) / SWEEP_PX
  return sum
}

/** @param absent is there nothing at a pixel of a frame? */
function plant(
  name: string,
  of: typeof wall,
  absent: (frame: number, x: number, y: number) => boolean = () => false,
): string {
  const dir = join(folder, name)
  mkdirSync(dir)
  for (let frame = 1001; frame < 1001 + FRAMES; frame++) {
    const light = frame === WHIPPED ? swept(of) : of
    const grain = grainOf(frame, 3 * W * H)
    const rgb = new Float32Array(3 * W * H)
    for (let y = 0, i = 0; y < H; y++)
      for (let x = 0; x < W; x++, i += 3)
        for (let c = i; c < i + 3; c++)
          rgb[c] = absent(frame, x, y) ? Number.NaN : light(x, y) * (1 + 0.01 * grain[c])
    writeFloatTiff(join(dir, `quay.${frame}.tif`), rgb, W, H)
  }
  return dir
}

async function madeOf(plate: string, targets: readonly number[], dx = 0) {
  const { result, candidate } = resultFor(
    plate,
    targets.map((target) => ({ target, donor: DONOR, dx })),
    { frames: FRAMES, encoding: 'linear' },
  )
  const job = await openRepair({ ...result, region: { ...result.region, surround: 32 } })
  const [pass, model] = [new HidePass(job, candidate), (await grainRound(job))?.within ?? null]
  const made = []
  for (const match of candidate.frames) {
    const one = await pass.repair(match)
    made.push({ ...one, blurred: motionBlurOf(job, candidate, match, one, model!) })
  }
  return made
}

describe('a plate of a night, of which much is black,', () => {
  test('is told to be blurred by movement where it is, and nowhere else', async () => {
    const made = await madeOf(plant('night', night), [1002, WHIPPED, 1005])
    const black = made[0].donor.data.filter((v) => v === 0).length / made[0].donor.data.length
    expect(black).toBeGreaterThan(0.25)
    expect(made.map(({ blurred }) => blurred)).toEqual([null, 'plate', null])
  })

  test('lends its black, and lends nothing where it has nothing', async () => {
    const absent = (frame: number, x: number, y: number) => frame === DONOR && x >= 70 && x < 76 && y < 60
    const [{ rect, there, alpha, donor }] = await madeOf(plant('torn', night, absent), [1002])
    for (let y = BOX[1]; y < BOX[1] + BOX[3]; y++)
      for (let x = BOX[0]; x < BOX[0] + BOX[2]; x++) {
        const i = (y - rect.y) * rect.w + x - rect.x
        const isAbsent = absent(DONOR, x, y)
        expect([there[i], alpha[i]]).toEqual(isAbsent ? [0, 0] : [1, 1])
        if (!isAbsent && night(x, y) === 0) expect(donor.data[3 * i]).toBe(0)
      }
  })
})

test('a hole in a donor does not keep grain from being put back round it', async () => {
  const absent = (frame: number, x: number, y: number) => frame === DONOR && x === 72 && y === 50
  const [{ detail, patch, alpha, rect }] = await madeOf(plant('pinhole', wall, absent), [1002], 0.5)
  expect(patch.data.every(Number.isFinite)).toBe(true)
  // Half a pixel of movement takes a third of grain's variance: what is put back makes the detail whole again.
  expect(Math.abs(detail! - 1)).toBeLessThan(0.1)
  const [x, y] = [62 - rect.x, 66 - rect.y]
  expect(alpha[y * rect.w + x]).toBe(1)
})
