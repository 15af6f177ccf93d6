// Planted truth: a still wall under a codec that takes most blocks over from the frame before, and changes some. What a patch
// shows from frame to frame is held against the plate's own: how much, and where nothing at all.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate, FrameMatch, Result } from '../../../src/search/result.js'
import { writePatchFolder } from '../../../src/sheet/patch-folder.js'
import { writeCodes } from '../../codes.js'
import { grainOf, random, recoded, texturedWall } from '../../synthetic.js'
import { resultFor } from '../job.js'

const [W, H, FRAMES] = [160, 120, 32]
const BOX = [56, 40, 48, 40] as const
const TARGETS = [1001, 1002, 1003, 1004, 1005, 1006, 1007, 1008]
const root = mkdtempSync(join(tmpdir(), 'offcut-lent-grain-'))
afterAll(() => rmSync(root, { recursive: true }))

/** Display codes of every frame, green; red and blue are the same. */
const shot: Float64Array[] = []
/** One frame in which somebody stands in a corner of the region. */
const PASSER = 1024

/**
 * Blocks of eight pixels: so many of them get other noise on each frame, the others are what they were.
 *
 * @param kept how much of it the codec leaves on a frame, a factor of its standard deviation
 */
function codec(changing: number | ((frame: number) => number), kept = (_frame: number) => 1): void {
  const wall = texturedWall(3, 9)
  const even = random(11)
  let noise = grainOf(1, W * H).slice()
  shot.length = 0
  for (let f = 0; f < FRAMES; f++) {
    const next = grainOf(100 + f, W * H)
    const share = typeof changing === 'number' ? changing : changing(1001 + f)
    noise = recoded(noise, next, W, () => even() < share)
    shot.push(
      Float64Array.from(
        { length: W * H },
        (_, i) => 90 + 60 * wall(i % W, Math.floor(i / W)) + 1.5 * kept(1001 + f) * noise[i],
      ),
    )
  }
}

async function write(folder: string): Promise<void> {
  for (const [f, codes] of shot.entries()) {
    const rgb = new Float32Array(3 * W * H)
    for (let i = 0; i < W * H; i++) {
      const [x, y] = [i % W, Math.floor(i / W)]
      const hidden = f < TARGETS.length && x >= 56 && x < 104 && y >= 40 && y < 80
      const passes = 1001 + f === PASSER && x < 66 && x >= 56 && y >= 44 && y < 60
      const code = hidden ? 40 + ((7 * f + x) % 20) : passes ? 30 : codes[i]
      rgb.fill(decode(code), 3 * i, 3 * i + 3)
    }
    await writeCodes(join(folder, `wall.${1001 + f}.png`), rgb, W, H)
  }
}

function stackOf(result: Result, relay: Candidate, donors: readonly number[]): Candidate {
  const frames = relay.frames.map((f): FrameMatch => {
    const { stops, ncc, seam, expected, clean, ...rest } = f
    const stack = donors.map((frame) => ({
      plate: 0,
      frame,
      dx: 0,
      dy: 0,
      gain: [1, 1, 1] as [number, number, number],
      weight: 1 / donors.length,
    }))
    return { ...rest, stops, ncc, seam, expected, clean, stack }
  })
  const stack: Candidate = { ...relay, id: 'stack-1', kind: 'stack', frames }
  ;(result.candidates as Candidate[]).push(stack)
  return stack
}

/** IEC 61966-2-1, codes of 255. */
const decode = (code: number) =>
  code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
const encode = (v: number) => 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

/** Green display codes inside, per target frame. */
async function patched(result: Result, candidate: Candidate): Promise<Float64Array[]> {
  const job = await openRepair(result)
  const pass = new HidePass(job, candidate)
  const out: Float64Array[] = []
  for (const match of candidate.frames) {
    const { rect, patch } = await pass.repair(match)
    const inside = new Float64Array(BOX[2] * BOX[3])
    for (let y = 0, i = 0; y < BOX[3]; y++)
      for (let x = 0; x < BOX[2]; x++, i++)
        inside[i] = encode(patch.data[3 * ((BOX[1] - rect.y + y) * rect.w + BOX[0] - rect.x + x) + 1])
    out.push(inside)
  }
  job.close()
  return out
}

const truth = () => TARGETS.map(insideOf)

function insideOf(frame: number): Float64Array {
  return Float64Array.from({ length: BOX[2] * BOX[3] }, (_, i) => {
    const at = (BOX[1] + Math.floor(i / BOX[2])) * W + BOX[0] + (i % BOX[2])
    return shot[frame - 1001][at]
  })
}

const difference = (one: Float64Array, other: Float64Array) =>
  one.reduce((sum, v, i) => sum + (v - other[i]) ** 2, 0)

function change(frames: readonly Float64Array[]): { rms: number; still: number } {
  let [sum, still, n] = [0, 0, 0]
  for (let t = 1; t < frames.length; t++)
    for (let i = 0; i < frames[t].length; i++, n++) {
      const v = frames[t][i] - frames[t - 1][i]
      sum += v * v
      if (Math.abs(v) < 0.35) still++
    }
  return { rms: Math.sqrt(sum / n), still: still / n }
}

/** RMS of what frames differ by from the wall without noise, its slow part aside. @param moved of each, how far the wall lies to the right */
function noise(frames: readonly Float64Array[], moved: readonly number[] = frames.map(() => 0)): number {
  const wall = texturedWall(3, 9)
  let [sum, n] = [0, 0]
  for (const [f, frame] of frames.entries())
    for (let i = 0; i < frame.length; i++, n++) {
      const [x, y] = [BOX[0] + (i % BOX[2]) - moved[f], BOX[1] + Math.floor(i / BOX[2])]
      sum += (frame[i] - 90 - 60 * wall(x, y)) ** 2
    }
  return Math.sqrt(sum / n)
}

const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)

describe.each([
  ['a codec that changes a fifth of its blocks on each frame', 0.2],
  ['a sensor whose noise is another one on each frame', 1],
])('on %s', (_, changing) => {
  let plate: string
  beforeAll(async () => {
    plate = mkdtempSync(join(root, 'plate-'))
    codec(changing)
    await write(plate)
  })

  const made = (donor: number) => {
    const lendings = TARGETS.map((target) => ({ target, donor }))
    return resultFor(plate, lendings, { frames: FRAMES, box: BOX })
  }

  test('a stack has the plate’s noise, changes as much as it, and where the plate stands still so does the patch', async () => {
    const { result, candidate } = made(1010)
    const stack = stackOf(result, candidate, range(1010, 1021))
    const [shown, real] = [await patched(result, stack), truth()]
    const [own, wanted] = [change(shown), change(real)]
    expect(own.rms / wanted.rms).toBeGreaterThan(0.9)
    expect(own.rms / wanted.rms).toBeLessThan(1.1)
    expect(Math.abs(own.still - wanted.still)).toBeLessThan(0.1)
    expect(noise(shown) / noise(real)).toBeGreaterThan(0.9)
    expect(noise(shown) / noise(real)).toBeLessThan(1.1)
  })

  test('a hold among a stack’s donors changes as they do, and no more of it is noise', async () => {
    const { result, candidate } = made(1015)
    stackOf(result, candidate, range(1010, 1021))
    const hold: Candidate = { ...candidate, id: 'hold-1015', kind: 'hold' }
    const [shown, real] = [await patched(result, hold), truth()]
    expect(change(shown).rms / change(real).rms).toBeGreaterThan(0.85)
    expect(change(shown).rms / change(real).rms).toBeLessThan(1.15)
    expect(noise(shown) / noise(real)).toBeGreaterThan(0.9)
    expect(noise(shown) / noise(real)).toBeLessThan(1.15)
  })

  test('patch.json tells of every frame whose finest detail it has: no other frame was shot so like it', async () => {
    const { result, candidate } = made(1015)
    stackOf(result, candidate, range(1010, 1021))
    const hold: Candidate = { ...candidate, id: 'hold-1015', kind: 'hold' }
    const shown = await patched(result, hold)
    const job = await openRepair(result)
    const folder = mkdtempSync(join(root, 'patch-'))
    const { frames } = await writePatchFolder(folder, job, hold)
    job.close()
    const told = frames.map(({ grain }) => grain!.frame)
    const likest = shown.map((patch) => {
      const away = range(1010, 1021).map((donor) => ({ donor, by: difference(patch, insideOf(donor)) }))
      return away.sort((a, b) => a.by - b.by)[0].donor
    })
    expect(told).toEqual(likest)
    expect(new Set(told).size).toBeGreaterThan(6)
    for (const { lent, grain } of frames) {
      expect(lent.map((l) => l.frame)).toEqual([1015])
      expect(grain).toMatchObject({ plate: 0, dx: 0, dy: 0, gain: [1, 1, 1] })
    }
  })

  test('a donor with somebody in its corner lends none of its finest', async () => {
    const { result, candidate } = made(1019)
    const stack = stackOf(result, candidate, range(1018, 1029))
    const shown = await patched(result, stack)
    // In the mean of twelve a twelfth of a coat is left; at full strength it would be more than sixty codes.
    const wall = texturedWall(3, 9)
    let most = 0
    for (const frame of shown)
      for (let y = 6; y < 18; y++) {
        let sum = 0
        for (let x = 2; x < 8; x++) sum += frame[y * BOX[2] + x] - 90 - 60 * wall(BOX[0] + x, BOX[1] + y)
        most = Math.max(most, Math.abs(sum / 6))
      }
    expect(most).toBeLessThan(20)
  })
})

test('donors that have next to no part in a stack lend none of their finest, many as they are: they show the wall elsewhere', async () => {
  const plate = mkdtempSync(join(root, 'plate-'))
  codec(0.2)
  const wall = texturedWall(3, 9)
  const swayed = range(1025, FRAMES + 1000)
  for (const frame of swayed)
    shot[frame - 1001] = shot[frame - 1001].map((code, i) => {
      const [x, y] = [i % W, Math.floor(i / W)]
      return code + 60 * (wall(x - 2, y) - wall(x, y))
    })
  await write(plate)
  const lendings = TARGETS.map((target) => ({ target, donor: 1019 }))
  const { result, candidate } = resultFor(plate, lendings, { frames: FRAMES, box: BOX })
  const settled = range(1018, 1022)
  const even = stackOf(result, candidate, [...settled, ...swayed])
  const stack = {
    ...even,
    frames: even.frames.map((f) => ({
      ...f,
      stack: f.stack!.map((s) => ({ ...s, weight: settled.includes(s.frame) ? 0.2 : 1e-5 })),
    })),
  }
  ;(result.candidates as Candidate[]).splice(result.candidates.indexOf(even), 1, stack)
  const [shown, real] = [await patched(result, stack), truth()]
  expect(noise(shown) / noise(real)).toBeLessThan(1.15)
  expect(noise(shown) / noise(real)).toBeGreaterThan(0.85)
})

describe('of a codec that keeps now more of a still wall and now less', () => {
  const DONORS = range(1018, 1029)
  const TOLD = range(1009, 1032).filter((f) => f !== PASSER)

  /** Every frame after the targets shows the region empty, and is known to. */
  function made(plate: string): { result: Result; stack: Candidate } {
    const lendings = TARGETS.map((target) => ({ target, donor: 1020 }))
    const { result, candidate } = resultFor(plate, lendings, { frames: FRAMES, box: BOX })
    const stack = stackOf(
      result,
      candidate,
      DONORS.filter((f) => f !== PASSER),
    )
    const matrix = {
      targets: TARGETS,
      donors: TOLD.map((frame) => ({ plate: 0, frame })),
      quality: TARGETS.map(() => TOLD.map((frame) => (DONORS.includes(frame) ? 100 : 90))),
    }
    return { result: { ...result, matrix }, stack }
  }

  test('a stack has the noise of the frames round the targets, though its donors have little more than half of it', async () => {
    const plate = mkdtempSync(join(root, 'plate-'))
    codec(0.2, (frame) => (DONORS.includes(frame) ? 0.6 : 1))
    await write(plate)
    const { result, stack } = made(plate)
    const [shown, real] = [await patched(result, stack), truth()]
    expect(noise(DONORS.map(insideOf)) / noise(real)).toBeLessThan(0.7)
    expect(noise(shown) / noise(real)).toBeGreaterThan(0.9)
    expect(noise(shown) / noise(real)).toBeLessThan(1.1)
    expect(change(shown).rms / change(real).rms).toBeGreaterThan(0.85)
    expect(change(shown).rms / change(real).rms).toBeLessThan(1.15)
  })

  test('a stack changes as little as the targets do, and has all of the noise that lasts on them', async () => {
    const plate = mkdtempSync(join(root, 'plate-'))
    codec((frame) => (frame <= 1009 ? 0.05 : 0.35))
    await write(plate)
    const { result, stack } = made(plate)
    const [shown, real] = [await patched(result, stack), truth()]
    expect(change(DONORS.slice(0, 6).map(insideOf)).rms / change(real).rms).toBeGreaterThan(2)
    expect(change(shown).rms / change(real).rms).toBeLessThan(1.6)
    expect(noise(shown) / noise(real)).toBeGreaterThan(0.9)
    expect(noise(shown) / noise(real)).toBeLessThan(1.1)
  })
})

const rms = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length)

describe('of a codec that begins anew on every sixth frame and repeats every fourth', () => {
  const shareOf = (frame: number) => ((frame - 1005) % 6 === 0 ? 1 : frame % 4 === 3 ? 0 : 0.15)
  const STILL = TARGETS.slice(1).map((frame) => shareOf(frame) === 0)
  let plate: string
  beforeAll(async () => {
    plate = mkdtempSync(join(root, 'plate-'))
    codec(shareOf)
    // Somebody walks by beside the region, also while all else stands still.
    for (const frame of TARGETS)
      for (let y = 86; y < 102; y++)
        shot[frame - 1001].fill(30, y * W + 10 * (frame - 1000), y * W + 10 * (frame - 1000) + 8)
    await write(plate)
  })

  const made = (donor: number, donors: readonly number[]) => {
    const lendings = TARGETS.map((target) => ({ target, donor }))
    const { result, candidate } = resultFor(plate, lendings, { frames: FRAMES, box: BOX })
    const stack = donors.length > 0 ? stackOf(result, candidate, donors) : null
    return { result, stack, hold: { ...candidate, id: `hold-${donor}`, kind: 'hold' } as Candidate }
  }
  /** Of what changes with the others: the passer is somewhere else on each frame. */
  const AS_GOOD_AS_STILL = 0.1
  /** RMS of what changes with each step. */
  const steps = (frames: readonly Float64Array[]) => frames.slice(1).map((f, t) => change([frames[t], f]).rms)

  test.each(['stack', 'hold'] as const)('a %s jumps and stands still as the plate does', async (kind) => {
    const all = made(1016, range(1010, 1021))
    const [own, wanted] = [steps(await patched(all.result, all[kind]!)), steps(truth())]
    for (const [t, step] of own.entries()) {
      if (STILL[t]) expect(step).toBeLessThan(AS_GOOD_AS_STILL * rms(wanted))
      else expect(Math.abs(Math.log(step / wanted[t]))).toBeLessThan(Math.log(1.6))
    }
  })

  test('noise that is made for a held donor stands still where the plate does, and changes most where it begins anew', async () => {
    const { result, hold } = made(1013, [])
    const shown = await patched(result, hold)
    const own = steps(shown)
    for (const [t, step] of own.entries())
      if (STILL[t]) expect(step).toBeLessThan(AS_GOOD_AS_STILL * rms(steps(truth())))
    expect(own.indexOf(Math.max(...own))).toBe(TARGETS.indexOf(1005) - 1)
    expect(noise(shown) / noise(truth())).toBeGreaterThan(0.9)
    expect(noise(shown) / noise(truth())).toBeLessThan(1.15)
  })
})

describe('of a camera that sways by whole pixels', () => {
  const sway = (frame: number) => [0, 2, 3, 1][frame % 4]
  const swaying = () => {
    codec(0.2)
    for (const [f, codes] of shot.entries()) {
      const by = sway(1001 + f)
      shot[f] = codes.map((_, i) => codes[Math.max(0, (i % W) - by) + i - (i % W)])
    }
  }

  test('a stack has the noise of its donors: what changes beside the region is the wall on its way', async () => {
    const plate = mkdtempSync(join(root, 'plate-'))
    swaying()
    await write(plate)
    const { result, candidate } = resultFor(
      plate,
      TARGETS.map((target) => ({ target, donor: 1015 })),
      { frames: FRAMES, box: BOX },
    )
    const stack = stackOf(result, candidate, range(1010, 1021))
    const frames = stack.frames.map((f) => ({
      ...f,
      stack: f.stack!.map((share) => ({ ...share, dx: sway(f.target) - sway(share.frame) })),
    }))
    ;(result.candidates as Candidate[]).splice(1, 1, { ...stack, frames })
    const [shown, real] = [await patched(result, { ...stack, frames }), truth()]
    const onWall = TARGETS.map(sway)
    expect(noise(shown, onWall) / noise(real, onWall)).toBeGreaterThan(0.9)
    expect(noise(shown, onWall) / noise(real, onWall)).toBeLessThan(1.1)
  })
})
