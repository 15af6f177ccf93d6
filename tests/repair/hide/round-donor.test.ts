// Planted truth: a still wall before a sensor whose noise is another one on each frame, and before a codec that changes a part of its
// blocks. Two halves of the region are lent by two held frames; what they then show is held against the plate's own.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { packPieces } from '../../../src/search/piece-map.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { writePatchFolder } from '../../../src/sheet/patch-folder.js'
import { writeCodes } from '../../codes.js'
import { grainOf, random, recoded, texturedWall } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H, FRAMES] = [160, 120, 40]
const BOX = [56, 40, 48, 40] as const
const TARGETS = range(1001, 1010)
/** Beside the first donor somebody stands in the left half, which it lends. */
const [LEFT, RIGHT, PASSER] = [1018, 1030, 1020]
const CODES = 3
const root = mkdtempSync(join(tmpdir(), 'offcut-round-donor-'))
afterAll(() => rmSync(root, { recursive: true }))

function range(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, i) => from + i)
}

const wall = texturedWall(3, 9)
/** Display codes of every frame, red, green and blue alike. @param changing share of the blocks that get other noise on each */
function shots(changing: number): Float64Array[] {
  const even = random(11)
  let noise = grainOf(1, W * H).slice()
  return range(1001, 1000 + FRAMES).map((frame) => {
    const next = grainOf(frame, W * H)
    noise = recoded(noise, next, W, () => even() < changing)
    return Float64Array.from(noise, (n, i) => 110 + 40 * wall(i % W, Math.floor(i / W)) + CODES * n)
  })
}

/** IEC 61966-2-1, codes of 255. */
const decode = (code: number) =>
  code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
const encode = (v: number) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

/** @param exposure factor of linear light */
async function write(shot: readonly Float64Array[], exposure: (frame: number) => number): Promise<string> {
  const folder = mkdtempSync(join(root, 'plate-'))
  for (const [f, codes] of shot.entries()) {
    const frame = 1001 + f
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++) {
      const [x, y] = [i % W, Math.floor(i / W)]
      const hidden = TARGETS.includes(frame) && x >= 56 && x < 104 && y >= 40 && y < 80
      const passes = frame === PASSER && x < 66 && x >= 56 && y >= 44 && y < 60
      const light = hidden ? 0.02 + 0.001 * ((7 * f + x) % 20) : passes ? 0.01 : decode(codes[i])
      rgb.fill(exposure(frame) * light, 3 * i, 3 * i + 3)
    }
    await writeCodes(join(folder, `wall.${frame}.png`), rgb, W, H)
  }
  return folder
}

/** @param lending frames of the plate that may lend */
function mosaicOf(plate: string, lending: readonly number[], gainOf: (frame: number) => number) {
  const lendings = TARGETS.map((target) => ({ target, donor: LEFT }))
  const { result, candidate } = resultFor(plate, lendings, { frames: FRAMES, box: BOX })
  const labels = Uint8Array.from({ length: BOX[2] * BOX[3] }, (_, i) => (i % BOX[2] < BOX[2] / 2 ? 0 : 1))
  const pieces = [LEFT, RIGHT].map((frame) => {
    const gain = gainOf(frame)
    return {
      plate: 0,
      frame,
      dx: 0,
      dy: 0,
      gain: [gain, gain, gain] as [number, number, number],
      weight: 0.5,
    }
  })
  const mosaic: Candidate = {
    ...candidate,
    id: 'mosaic-1',
    kind: 'mosaic',
    map: packPieces(labels, { x: BOX[0], y: BOX[1], w: BOX[2], h: BOX[3] }),
    frames: candidate.frames.map((f) => ({ ...f, pieces, map: { dx: 0, dy: 0 } })),
  }
  const matrix = {
    targets: TARGETS,
    donors: lending.map((frame) => ({ plate: 0, frame })),
    quality: TARGETS.map(() => lending.map(() => 90)),
  }
  return { result: { ...result, matrix, candidates: [mosaic] } as Result, mosaic }
}

/** Green display codes inside, and for each target frame whose finest stood for that of who lends. */
async function patched(result: Result, candidate: Candidate) {
  const job = await openRepair(result)
  const pass = new HidePass(job, candidate)
  const shown: Float64Array[] = []
  const finest: (readonly number[])[] = []
  for (const match of candidate.frames) {
    const { rect, patch, finest: own } = await pass.repair(match)
    shown.push(inside((x, y) => encode(patch.data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1])))
    finest.push((own ?? []).map(({ frame }) => frame))
  }
  job.close()
  return { shown, finest }
}

function inside(at: (x: number, y: number) => number): Float64Array {
  return Float64Array.from({ length: BOX[2] * BOX[3] }, (_, i) =>
    at(BOX[0] + (i % BOX[2]), BOX[1] + Math.floor(i / BOX[2])),
  )
}

const rms = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length)
const change = (frames: readonly Float64Array[]) =>
  rms(frames.slice(1).flatMap((f, t) => [...f].map((v, i) => v - frames[t][i])))
const noise = (frames: readonly Float64Array[]) => {
  const still = inside((x, y) => 110 + 40 * wall(x, y))
  return rms(frames.flatMap((f) => [...f].map((v, i) => v - still[i])))
}

describe.each([
  ['a sensor whose noise is another one on each frame', 1],
  ['a codec that changes a fifth of its blocks on each frame', 0.2],
])('two held pieces on %s', (_, changing) => {
  const shot = shots(changing)
  const truth = TARGETS.map((frame) => inside((x, y) => shot[frame - 1001][y * W + x]))
  let plate: string
  beforeAll(async () => {
    plate = await write(shot, () => 1)
  })
  const lending = range(1011, 1000 + FRAMES)

  test('have the plate’s noise and change as it does', async () => {
    const { result, mosaic } = mosaicOf(plate, lending, () => 1)
    const { shown } = await patched(result, mosaic)
    expect(noise(shown) / noise(truth)).toBeGreaterThan(0.93)
    expect(noise(shown) / noise(truth)).toBeLessThan(1.07)
    expect(change(shown) / change(truth)).toBeGreaterThan(0.85)
    expect(change(shown) / change(truth)).toBeLessThan(1.15)
  })

  test('take the finest of frames round each that may lend and that nobody passes', async () => {
    const { result, mosaic } = mosaicOf(plate, lending, () => 1)
    const { finest } = await patched(result, mosaic)
    const [left, right] = [0, 1].map((piece) => finest.map((frames) => frames[piece]))
    expect(left[0]).toBe(LEFT)
    expect(right[0]).toBe(RIGHT)
    expect(left).not.toContain(PASSER)
    for (const [donor, frames] of [
      [LEFT, left],
      [RIGHT, right],
    ] as const) {
      expect(new Set(frames).size).toBeGreaterThan(5)
      for (const [t, frame] of frames.entries()) {
        expect(Math.abs(frame - donor)).toBeLessThanOrEqual(12)
        if (t > 0) expect(frame).not.toBe(frames[t - 1])
      }
    }
  })

  test('are told with that frame in patch.json', async () => {
    const { result, mosaic } = mosaicOf(plate, lending, () => 1)
    const { finest } = await patched(result, mosaic)
    const job = await openRepair(result)
    const { frames } = await writePatchFolder(mkdtempSync(join(root, 'patch-')), job, mosaic)
    job.close()
    for (const [t, { lent }] of frames.entries())
      for (const share of lent) {
        const piece = share.frame === LEFT ? 0 : 1
        expect(share.finest?.frame ?? share.frame).toBe(finest[t][piece])
      }
    expect(frames.at(-1)!.lent.every((share) => share.finest !== undefined)).toBe(true)
  })

  test('are not lent by frames that were not asked to lend', async () => {
    const only = lending.filter((frame) => frame < 1014 || frame > 1016)
    const { result, mosaic } = mosaicOf(plate, only, () => 1)
    const { finest } = await patched(result, mosaic)
    for (const frame of finest.flat()) expect(only).toContain(frame)
  })
})

test('a codec that repeats nearly all of its blocks lends no grain: a held piece would stand still', async () => {
  const plate = await write(shots(0.02), () => 1)
  const { result, mosaic } = mosaicOf(plate, range(1011, 1000 + FRAMES), () => 1)
  const { finest } = await patched(result, mosaic)
  expect(finest.flat()).toEqual([])
})

test('frames round a held piece are brought to its light', async () => {
  const shot = shots(1)
  const exposure = (frame: number) => (frame <= 1010 ? 1 : 1 + 0.03 * Math.sin(frame))
  const plate = await write(shot, exposure)
  const { result, mosaic } = mosaicOf(plate, range(1011, 1000 + FRAMES), (frame) => 1 / exposure(frame))
  const { shown } = await patched(result, mosaic)
  const truth = TARGETS.map((frame) => inside((x, y) => shot[frame - 1001][y * W + x]))
  const mean = (frame: Float64Array) => frame.reduce((sum, v) => sum + v, 0) / frame.length
  for (const [t, frame] of shown.entries()) expect(Math.abs(mean(frame) - mean(truth[t]))).toBeLessThan(0.3)
  expect(noise(shown) / noise(truth)).toBeLessThan(1.07)
})
