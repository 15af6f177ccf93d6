// Planted truth: a relay over a still wall, before a sensor whose noise is another one on each frame, and before a codec that changes a
// part of its blocks. From some frame on half of the wall is lighter, which no gain tells: there the second donor differs.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { writePatchFolder } from '../../../src/sheet/patch-folder.js'
import { writeCodes } from '../../codes.js'
import { grainOf, random, recoded, texturedWall } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H, FRAMES] = [160, 120, 44]
const BOX = [56, 40, 48, 40] as const
const TARGETS = range(1001, 1012)
/** Frames of the wall as it is over the targets, and of the lighter one. */
const [ONE, OTHER, LIGHTER_FROM] = [1020, 1037, 1030]
/** The first frame of the second donor; its share on the four before it and the four from it on. */
const CHANGE = 1007
const shareOf = (target: number) => Math.min(1, Math.max(0, (target - CHANGE + 5) / 9))
const [CODES, STEP] = [3, 4]
const root = mkdtempSync(join(tmpdir(), 'offcut-dissolved-'))
afterAll(() => rmSync(root, { recursive: true }))

function range(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, i) => from + i)
}

const wall = texturedWall(3, 9)
const wallCode = (x: number, y: number) => 110 + 40 * wall(x, y)
/** Display codes of every frame, red, green and blue alike. @param changing share of the blocks that get other noise on each */
function shots(changing: number): Float64Array[] {
  const even = random(11)
  let noise = grainOf(1, W * H).slice()
  return range(1001, 1000 + FRAMES).map((frame) => {
    noise = recoded(noise, grainOf(frame, W * H), W, () => even() < changing)
    return Float64Array.from(noise, (n, i) => {
      const isLighter = frame >= LIGHTER_FROM && i % W >= BOX[0] + BOX[2] / 2
      return wallCode(i % W, Math.floor(i / W)) + (isLighter ? STEP : 0) + CODES * n
    })
  })
}

/** IEC 61966-2-1, codes of 255. */
const decode = (code: number) =>
  code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
const encode = (v: number) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

async function write(shot: readonly Float64Array[]): Promise<string> {
  const folder = mkdtempSync(join(root, 'plate-'))
  for (const [f, codes] of shot.entries()) {
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++) {
      const [x, y] = [i % W, Math.floor(i / W)]
      const hidden = f < TARGETS.length && x >= 56 && x < 104 && y >= 40 && y < 80
      rgb.fill(hidden ? 0.02 + 0.001 * ((7 * f + x) % 20) : decode(codes[i]), 3 * i, 3 * i + 3)
    }
    await writeCodes(join(folder, `wall.${1001 + f}.png`), rgb, W, H)
  }
  return folder
}

/** @param isCut whether the donors change at a stroke */
function relayOf(plate: string, isCut: boolean) {
  const lendings = TARGETS.map((target) => ({ target, donor: shareOf(target) < 0.5 ? ONE : OTHER }))
  const { result, candidate } = resultFor(plate, lendings, { frames: FRAMES, box: BOX })
  const share = (frame: number, weight: number) => ({
    ...{ plate: 0, frame, dx: 0, dy: 0, weight },
    gain: [1, 1, 1] as [number, number, number],
  })
  const relay: Candidate = {
    ...candidate,
    frames: candidate.frames.map((match) => {
      const weight = shareOf(match.target)
      if (isCut || weight === 0 || weight === 1) return match
      const both = [share(ONE, 1 - weight), share(OTHER, weight)]
      return { ...match, stack: match.donor === ONE ? both : both.reverse() }
    }),
  }
  const lending = range(1013, 1000 + FRAMES)
  const matrix = {
    targets: TARGETS,
    donors: lending.map((frame) => ({ plate: 0, frame })),
    quality: TARGETS.map(() => lending.map(() => 90)),
  }
  return { result: { ...result, matrix, candidates: [relay] } as Result, relay }
}

/** Green display codes inside, and by target frame whose finest stood for that of each who lends. */
async function patched(result: Result, candidate: Candidate) {
  const job = await openRepair(result)
  const pass = new HidePass(job, candidate)
  const shown: Float64Array[] = []
  const finest: { own: number; other: number }[][] = []
  for (const match of candidate.frames) {
    const made = await pass.repair(match)
    const { rect, patch } = made
    shown.push(inside((x, y) => encode(patch.data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1])))
    const lent = match.stack ?? [{ frame: match.donor }]
    finest.push(lent.map(({ frame: own }, k) => ({ own, other: made.finest?.[k].frame ?? own })))
  }
  job.close()
  return { shown, finest }
}

function inside(at: (x: number, y: number) => number): Float64Array {
  return Float64Array.from({ length: BOX[2] * BOX[3] }, (_, i) =>
    at(BOX[0] + (i % BOX[2]), BOX[1] + Math.floor(i / BOX[2])),
  )
}

const rms = (values: Iterable<number>) => {
  const all = [...values]
  return Math.sqrt(all.reduce((sum, v) => sum + v * v, 0) / all.length)
}
const changes = (frames: readonly Float64Array[]) =>
  frames.slice(1).map((f, t) => rms([...f].map((v, i) => v - frames[t][i])))
/** By frame what it differs by from the wall, beside how much lighter the right half is on it. */
const noises = (frames: readonly Float64Array[], lighter: (t: number) => number) =>
  frames.map((f, t) => {
    const still = inside((x, y) => wallCode(x, y) + (x >= BOX[0] + BOX[2] / 2 ? lighter(t) : 0))
    return rms(f.map((v, i) => v - still[i]))
  })
/** By frame what the right half changes by in the mean, beside the left. */
const steps = (frames: readonly Float64Array[]) => {
  const side = (f: Float64Array, isRight: boolean) => {
    const half = [...f].filter((_, i) => i % BOX[2] >= BOX[2] / 2 === isRight)
    return half.reduce((a, b) => a + b, 0) / half.length
  }
  const apart = frames.map((f) => side(f, true) - side(f, false))
  return apart.slice(1).map((v, t) => Math.abs(v - apart[t]))
}

describe.each([
  ['a sensor whose noise is another one on each frame', 1],
  ['a codec that changes a fifth of its blocks on each frame', 0.2],
])('a relay on %s', (_, changing) => {
  const shot = shots(changing)
  const truth = TARGETS.map((frame) => inside((x, y) => shot[frame - 1001][y * W + x]))
  let plate: string
  beforeAll(async () => {
    plate = await write(shot)
  })

  test('steps by a ninth of what its donors differ by, and by all of that where it is cut', async () => {
    const { result, relay } = relayOf(plate, false)
    const { shown } = await patched(result, relay)
    expect(Math.max(...steps(shown))).toBeLessThan(STEP / 9 + 0.5)
    const cut = relayOf(plate, true)
    expect(Math.max(...steps((await patched(cut.result, cut.relay)).shown))).toBeGreaterThan(STEP - 0.5)
  })

  test('has the plate’s noise on every frame of the dissolve, and changes as it does', async () => {
    const { result, relay } = relayOf(plate, false)
    const { shown } = await patched(result, relay)
    const lighter = (t: number) => STEP * shareOf(TARGETS[t])
    const usual = rms(noises(truth, () => 0))
    // The mean of two independent grains alone would have 0.71 of it.
    for (const noise of noises(shown, lighter)) {
      expect(noise / usual).toBeGreaterThan(0.85)
      expect(noise / usual).toBeLessThan(1.12)
    }
    const all = rms(changes(shown)) / rms(changes(truth))
    expect(all).toBeGreaterThan(0.85)
    expect(all).toBeLessThan(1.15)
  })

  test('takes the finest of frames round both donors, each going on as long as it lends', async () => {
    const { result, relay } = relayOf(plate, false)
    const { finest } = await patched(result, relay)
    for (const donor of [ONE, OTHER]) {
      const row = finest.flat().filter(({ own }) => own === donor)
      expect(row[0].other).toBe(donor)
      for (const [k, { other }] of row.entries()) {
        expect(Math.abs(other - donor)).toBeLessThanOrEqual(12)
        if (k > 0) expect(other).not.toBe(row[k - 1].other)
      }
    }
  })

  test('is told with both shares in patch.json', async () => {
    const { result, relay } = relayOf(plate, false)
    const job = await openRepair(result)
    const { frames } = await writePatchFolder(mkdtempSync(join(root, 'patch-')), job, relay)
    job.close()
    for (const { target, lent } of frames) {
      const next = lent.find(({ frame }) => frame === OTHER)?.share ?? 0
      expect(next).toBeCloseTo(shareOf(target), 12)
      expect(lent.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 12)
    }
  })
})
