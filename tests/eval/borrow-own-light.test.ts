import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Candidate, FrameMatch } from '../../src/search/result.js'
import { plantShade } from '../search/shaded.js'
import { HEIGHT, WIDTH } from '../synthetic.js'
import { OwnLights } from './borrow-own-light.js'
import type { ShadeCase } from './borrow-plant.js'
import { type Footage, openFootage } from './footage.js'
import { REGION_HEIGHT, REGION_WIDTH } from './region.js'

const BOX = { x: 48, y: 36, w: REGION_WIDTH, h: REGION_HEIGHT }
/** Stops that the footage's own shadow takes, by frame: one so faint that the frame counts as empty, and a person's. */
const OWN = new Map([
  [1006, -0.04],
  [1007, -2],
])
const QUIET = [1001, 1002, 1003, 1010, 1011, 1012]

describe('the light that footage has of its own', { timeout: 20_000 }, () => {
  let folder: string
  let footage: Footage
  let planted: ShadeCase
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'offcut-own-light-'))
    await plantShade(folder, { frames: 12, shades: [(_x, _y, i) => OWN.get(1001 + i) ?? 0] })
    footage = await openFootage(folder)
    planted = {
      id: 'plain-1',
      variant: 'plain',
      window: { box: BOX, frames: [1004], disturbedShare: 0 },
      crop: { x: 0, y: 0, w: WIDTH, h: HEIGHT },
      box: BOX,
      frames: footage.frames,
      motion: footage.frames.map(() => ({ stops: 0, dx: 0, dy: 0 })),
      labels: footage.frames.map(() => 'empty'),
      shade: {
        stops: -0.5,
        tint: [1, 1, 1],
        x: 80,
        y: 60,
        vx: 0,
        vy: 0,
        peak: 1006,
        rx: 200,
        ry: 200,
        soft: 0.5,
      },
      start: 1005,
      strongest: 1006,
      end: 1007,
      deepest: -0.5,
    }
  }, 20_000)
  afterAll(() => rmSync(folder, { recursive: true }))

  const lights = (gain: number) => {
    const share = { plate: 0, dx: 0, dy: 0, weight: 1 / QUIET.length }
    const quietState = QUIET.map((frame) => ({ ...share, frame, gain: [gain, gain, gain] }))
    // Only what is read of them.
    return new OwnLights(footage, planted, { moment: { peak: 1006, quietState } } as unknown as Candidate)
  }
  const from = (donor: number) => ({ target: 1004, donor, dx: 0, dy: 0 }) as FrameMatch
  const mean = (v: Float32Array) => v.reduce((a, b) => a + b, 0) / v.length

  test('a quiet frame has none, one under a faint shadow has the shadow, to 0.003 stops', async () => {
    expect(mean(await lights(1).at(from(1005)))).toBeCloseTo(0, 2)
    expect(Math.abs(mean(await lights(1).at(from(1006))) + 0.04)).toBeLessThan(0.003)
  })

  test('what is there is as deep as both together', async () => {
    expect(Math.abs((await lights(1).deepest(from(1006))) - 0.54)).toBeLessThan(0.01)
  })

  test('a person passes for no more than 5 codes of light, and so does a gain that is wrong by a stop', async () => {
    const person = await lights(1).at(from(1007))
    expect(mean(person)).toBeGreaterThan(-0.3)
    expect(mean(person)).toBeLessThan(-0.03)
    expect(mean(await lights(2).at(from(1005)))).toBeGreaterThan(-0.3)
  })
})
