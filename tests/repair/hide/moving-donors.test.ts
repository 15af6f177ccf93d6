// Planted truth: scenery that moves in the region, under noise that we chose. What a patch has beside the mean of its donors is to be
// noise, as strong as the plate's: the leaves of one donor, or a shadow where some donors have it, would be none.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate } from '../../../src/search/result.js'
import { writeCodes } from '../../codes.js'
import { grainOf, random, recoded } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H, FRAMES] = [160, 120, 32]
const BOX = [56, 40, 48, 40] as const
const TARGETS = [1001, 1002, 1003, 1004]
/** Codes of 255. */
const NOISE = 1.5

const root = mkdtempSync(join(tmpdir(), 'offcut-moving-donors-'))
afterAll(() => rmSync(root, { recursive: true }))

/** Display codes without noise. */
type Scene = (frame: number, x: number, y: number) => number

const isInside = (x: number, y: number) =>
  x >= BOX[0] && x < BOX[0] + BOX[2] && y >= BOX[1] && y < BOX[1] + BOX[3]

/** Waves of several lengths in all directions, -1 to 1. */
function waves(x: number, y: number): number {
  const wave = (a: number, b: number, at: number) => Math.sin(a * x + b * y + at)
  return (wave(0.9, 0.4, 0) + wave(-0.5, 0.8, 1) + wave(0.3, -1.1, 2) + wave(0.7, 0.9, 3)) / 4
}

/** All inside swings by up to a pixel, each branch by itself. */
const leaves: Scene = (frame, x, y) => {
  const swing = isInside(x, y) ? Math.sin((2 * Math.PI * frame) / 17 + x / 9) : 0
  return 90 + 40 * waves(x - swing, y)
}

/** A tree's shadow lies on a wall, and wanders to another place between the two times of which the donors are. */
const shade: Scene = (frame, x, y) => {
  const wander = isInside(x, y) && frame > 1018 ? 5 : 0
  return 110 + 10 * waves(x, y) + 12 * waves(x / 2 - wander, y / 2)
}

/** IEC 61966-2-1, codes of 255. */
const decode = (code: number) =>
  code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
const encode = (v: number) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

/** @param changing share of the blocks of eight pixels that get other noise on each frame */
async function write(folder: string, scene: Scene, changing: number): Promise<void> {
  const even = random(11)
  let noise = grainOf(1, W * H).slice()
  for (let f = 0; f < FRAMES; f++) {
    noise = recoded(noise, grainOf(100 + f, W * H), W, () => even() < changing)
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++)
      rgb.fill(decode(scene(1001 + f, i % W, Math.floor(i / W)) + NOISE * noise[i]), 3 * i, 3 * i + 3)
    await writeCodes(join(folder, `wall.${1001 + f}.png`), rgb, W, H)
  }
}

const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)

test.each([
  ['leaves that swing, under a sensor’s noise', leaves, 1, range(1010, 1021)],
  ['a shadow that wanders, under a codec’s noise', shade, 0.2, [...range(1008, 1014), ...range(1024, 1028)]],
])(
  'a stack of %s has noise beside the mean of its donors, and nothing else',
  async (_, scene, changing, donors) => {
    const plate = mkdtempSync(join(root, 'plate-'))
    await write(plate, scene, changing)
    const { result, candidate } = resultFor(
      plate,
      TARGETS.map((target) => ({ target, donor: donors[0] })),
      { frames: FRAMES, box: BOX },
    )
    const gain: [number, number, number] = [1, 1, 1]
    const shares = donors.map((frame) => ({
      plate: 0,
      frame,
      dx: 0,
      dy: 0,
      gain,
      weight: 1 / donors.length,
    }))
    const frames = candidate.frames.map((f) => ({ ...f, stack: shares }))
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
          const mean = donors.reduce((sum, donor) => sum + scene(donor, x, y), 0) / donors.length
          squares += (shown - mean) ** 2
        }
    }
    job.close()
    const noise = Math.sqrt(squares / n) / NOISE
    expect(noise).toBeGreaterThan(0.75)
    expect(noise).toBeLessThan(1.2)
  },
)
