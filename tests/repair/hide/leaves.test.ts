// Planted truth: a sensor's noise, another one on each frame, over leaves that swing in the region. What a patch has beside the mean of
// its donors is to be noise, as strong as the plate's: the leaves of one donor at another's place would be none.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate } from '../../../src/search/result.js'
import { writeCodes } from '../../codes.js'
import { grainOf } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H, FRAMES] = [160, 120, 32]
const BOX = [56, 40, 48, 40] as const
const TARGETS = [1001, 1002, 1003, 1004]
const DONORS = Array.from({ length: 12 }, (_, k) => 1010 + k)
/** Codes of 255. */
const NOISE = 1.5

const plate = mkdtempSync(join(tmpdir(), 'offcut-leaves-'))
afterAll(() => rmSync(plate, { recursive: true }))

/** Waves of several lengths in all directions, -1 to 1. */
function leaves(x: number, y: number): number {
  const wave = (a: number, b: number, at: number) => Math.sin(a * x + b * y + at)
  return (wave(0.9, 0.4, 0) + wave(-0.5, 0.8, 1) + wave(0.3, -1.1, 2) + wave(0.7, 0.9, 3)) / 4
}

/** Without noise, display codes: all inside swings by up to a pixel, each branch by itself. */
function scene(frame: number, x: number, y: number): number {
  const isInside = x >= BOX[0] && x < BOX[0] + BOX[2] && y >= BOX[1] && y < BOX[1] + BOX[3]
  const swing = isInside ? Math.sin((2 * Math.PI * frame) / 17 + x / 9) : 0
  return 90 + 40 * leaves(x - swing, y)
}

/** IEC 61966-2-1, codes of 255. */
const decode = (code: number) =>
  code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
const encode = (v: number) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

beforeAll(async () => {
  for (let f = 0; f < FRAMES; f++) {
    const noise = grainOf(100 + f, W * H)
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++)
      rgb.fill(decode(scene(1001 + f, i % W, Math.floor(i / W)) + NOISE * noise[i]), 3 * i, 3 * i + 3)
    await writeCodes(join(plate, `leaves.${1001 + f}.png`), rgb, W, H)
  }
})

test('a stack of leaves that swing has the plate’s noise beside the mean of its donors, and nothing of their leaves', async () => {
  const { result, candidate } = resultFor(
    plate,
    TARGETS.map((target) => ({ target, donor: DONORS[0] })),
    { frames: FRAMES, box: BOX },
  )
  const frames = candidate.frames.map((f) => ({
    ...f,
    stack: DONORS.map((frame) => ({
      plate: 0,
      frame,
      dx: 0,
      dy: 0,
      gain: [1, 1, 1] as [number, number, number],
      weight: 1 / DONORS.length,
    })),
  }))
  const stack: Candidate = { ...candidate, id: 'stack-1', kind: 'stack', frames }
  ;(result.candidates as Candidate[]).push(stack)
  const job = await openRepair(result)
  const pass = new HidePass(job, stack)
  let [squares, n] = [0, 0]
  for (const match of stack.frames) {
    const { rect, patch } = await pass.repair(match)
    for (let y = BOX[1]; y < BOX[1] + BOX[3]; y++)
      for (let x = BOX[0]; x < BOX[0] + BOX[2]; x++, n++) {
        const shown = encode(patch.data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1])
        const mean = DONORS.reduce((sum, donor) => sum + scene(donor, x, y), 0) / DONORS.length
        squares += (shown - mean) ** 2
      }
  }
  job.close()
  const noise = Math.sqrt(squares / n) / NOISE
  expect(noise).toBeGreaterThan(0.85)
  expect(noise).toBeLessThan(1.2)
})
