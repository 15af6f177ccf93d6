// Planted truth: a sensor's grain, one per cent of the light, before a camera that sways by parts of a pixel.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { grainAt, varianceOf } from '../../../src/repair/grain/model.js'
import { grainRound } from '../../../src/repair/hide/plate-grain.js'
import { openRepair } from '../../../src/repair/repair.js'
import { plantPlate, texturedWall, type Wall } from '../../synthetic.js'
import { resultFor } from '../job.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-plate-grain-'))
afterAll(() => rmSync(root, { recursive: true }))

const [FRAMES, NOISE] = [32, 0.01]
const BOX = [32, 28, 80, 64] as const
const busy = texturedWall(9, 3)
/** Plain, but for a part of the region with detail that no filter moves as it is. */
const wall: Wall = (x, y) => (x > 88 && x < 112 ? busy(x, y) : 0.2 + 0.0004 * x)
const sway = (index: number) => [1.3 * Math.sin(index), 0.9 * Math.cos(1.7 * index)] as const

describe('grain of a region under a camera that sways', () => {
  test('is what the sensor has: stripes that a moved frame shows otherwise are none', async () => {
    const folder = join(root, 'plate')
    await plantPlate(folder, { frames: FRAMES, noise: NOISE, wall, sway })
    const lendings = [1001, 1002, 1003].map((target) => ({ target, donor: 1016 }))
    const { result } = resultFor(folder, lendings, { frames: FRAMES, box: BOX })
    const donors = Array.from({ length: FRAMES - 3 }, (_, i) => ({ plate: 0, frame: 1004 + i }))
    const matrix = {
      targets: [1001, 1002, 1003],
      donors,
      quality: lendings.map(() => donors.map(({ frame }) => 100 - 0.1 * frame)),
    }
    const job = await openRepair({ ...result, matrix })
    const { within } = (await grainRound(job))!
    job.close()
    for (let c = 0; c < 3; c++) {
      const light = 0.2
      let variance = 0
      for (let k = 0; k < 3; k++) variance += within.mix[3 * c + k] ** 2 * varianceOf(within.whole[k])
      const sigma = grainAt(within, c, light) * Math.sqrt(variance)
      expect(sigma / (NOISE * light)).toBeGreaterThan(0.85)
      expect(sigma / (NOISE * light)).toBeLessThan(1.2)
    }
  })
})
