import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../../src/footage/plate.js'
import { blur } from '../../../src/kernels/ratio.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame } from '../../../src/raster/frame.js'
import { bandGrain, logRatios, luminanceOf, withoutGrain } from '../../../src/repair/lighting/bands.js'
import { ratioAt } from '../../../src/repair/lighting/estimate.js'
import { LightingPass } from '../../../src/repair/lighting/lighting-pass.js'
import { referenceState, type UnlitFrame } from '../../../src/repair/lighting/reference-state.js'
import { writeLighting } from '../../../src/repair/lighting/write.js'
import { openRepair, type RepairJob } from '../../../src/repair/repair.js'
import { findBorrow } from '../../../src/search/borrow/borrow.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { patch, plantShade, type ShadedPlate } from '../../search/shaded.js'
import { HEIGHT, normal, WIDTH } from '../../synthetic.js'

const workspace = new Workspace()

const BOX = { x: 56, y: 40, w: 44, h: 36 }

describe('the ratio of two pictures', () => {
  const width = 48
  const length = width * 40
  const validity = new Float32Array(length).fill(1)
  const at = (donor: Float32Array, reference: Float32Array, variance: number, scale = 2) =>
    ratioAt(
      workspace,
      { donor, reference, validity, noise: new Float32Array(length).fill(variance) },
      width,
      scale,
    )
  const reference = Float32Array.from({ length }, (_, i) => 0.2 + 0.05 * Math.sin(i * 1.7))

  // Hand-computed: a shadow of 0.62 stops leaves 2^-0.62 = 0.6507 of the light.
  test.each([
    [-0.62, 0.65067],
    [-1, 0.5],
    [0.5, Math.SQRT2],
  ])('%s stops are a factor of %s', (stops, factor) => {
    for (const r of at(
      reference.map((v) => v * 2 ** stops),
      reference,
      1e-6,
    ))
      expect(r).toBeCloseTo(factor, 4)
  })

  test('grain in the dark does not explode: where there is no light the ratio goes to 1', () => {
    const grain = normal(5)
    const dark = reference.map(() => 1e-5)
    const noisy = dark.map((v) => Math.max(0, v + 0.002 * grain()))
    for (const r of at(noisy, dark, 0.002 ** 2)) expect(Math.abs(r - 1)).toBeLessThan(0.25)
    expect(noisy.reduce((a, b) => a + b) / length / 1e-5).toBeGreaterThan(50)
  })

  test('pixels that are not valid have no say, be they anything', () => {
    const donor = reference.map((v) => v / 2)
    const some = validity.map((_, i) => (i % 3 === 0 ? 0 : 1))
    const spoilt = donor.map((v, i) => (some[i] === 0 ? Number.NaN : v))
    const noise = new Float32Array(length).fill(1e-8)
    for (const r of ratioAt(workspace, { donor: spoilt, reference, validity: some, noise }, width, 2))
      expect(r).toBeCloseTo(0.5, 3)
  })

  test('nothing valid at all is no change', () => {
    const out = ratioAt(
      workspace,
      { donor: reference, reference, validity: new Float32Array(length), noise: validity },
      width,
      2,
    )
    expect(new Set(out)).toEqual(new Set([1]))
  })

  test('a soft shadow’s core and foot are not rounded off: a mean over 9 pixels finds 40 of them to 1 %', () => {
    const soft = Float32Array.from({ length }, (_, i) => {
      const t = Math.min(1, Math.max(0, ((i % width) - 4) / 40))
      return 2 ** (-t * t * (3 - 2 * t))
    })
    const found = at(
      reference.map((v, i) => v * soft[i]),
      reference,
      1e-9,
    )
    for (let i = 0; i < length; i++) expect(Math.abs(found[i] / soft[i] - 1)).toBeLessThan(0.01)
  })

  test('a blur keeps a flat picture flat, and a dot’s variance is r (r + 1)', () => {
    const flat = new Float32Array(64 * 64).fill(0.37)
    blur(workspace, flat, 64, 3)
    for (const v of flat) expect(v).toBeCloseTo(0.37, 5)
    const dot = new Float32Array(64 * 64)
    dot[32 * 64 + 32] = 1
    blur(workspace, dot, 64, 3)
    let sum = 0
    let square = 0
    for (let i = 0; i < dot.length; i++) {
      sum += dot[i]
      square += dot[i] * ((i % 64) - 32) ** 2
    }
    expect(sum).toBeCloseTo(1, 4)
    expect(square / sum).toBeCloseTo(3 * 4, 3)
  })
})

describe('a shadow on a grainy wall', () => {
  const width = 96
  const length = width * 72
  const validity = new Float32Array(length).fill(1)
  const grain = normal(11)
  const SIGMA = 0.03
  const wall = [0.3, 0.24, 0.2].map((v, c) =>
    Float32Array.from({ length }, (_, i) => v * (1 + 0.2 * Math.sin(i * 1.7 + c))),
  )
  const shot = (light: (i: number) => number) =>
    wall.map((v) => v.map((x, i) => x * light(i) * (1 + SIGMA * grain())))
  const noise = luminanceOf(wall).map((v) => (0.7 * SIGMA * v) ** 2)
  const ratios = (frame: Float32Array[]) => logRatios(workspace, frame, wall, validity, noise, width)
  const known = bandGrain(
    workspace,
    Array.from({ length: 8 }, () => ratios(shot(() => 1))),
    width,
    8,
  )
  const lift = (light: (i: number) => number) => withoutGrain(workspace, ratios(shot(light)), known, width)
  /** RMS of what is lifted over the truth, minus 1, where `where` holds. */
  const off = (light: (i: number) => number, where: (x: number) => boolean = () => true) => {
    const factors = lift(light)
    let square = 0
    let n = 0
    for (let i = 0; i < length; i++) {
      if (!where(i % width)) continue
      for (const f of factors) square += (2 ** f[i] / light(i) - 1) ** 2
      n += 3
    }
    return Math.sqrt(square / n)
  }
  const side = (blurPx: number) => (i: number) => {
    const t = Math.min(1, Math.max(0, ((i % width) - 48) / blurPx + 0.5))
    return 2 ** (-t * t * (3 - 2 * t))
  }

  test('no shadow at all leaves less than a tenth of the grain', () => {
    expect(off(() => 1)).toBeLessThan(0.1 * SIGMA)
  })

  test('a stop over 30 pixels is lifted to a fifth of the grain', () => {
    expect(off(side(30))).toBeLessThan(0.2 * SIGMA)
  })

  test('a stop over 4 pixels is lifted to grain, and 16 pixels from its edge to a fifth of it', () => {
    expect(off(side(4))).toBeLessThan(SIGMA)
    expect(off(side(4), (x) => Math.abs(x - 48) > 16)).toBeLessThan(0.2 * SIGMA)
  })

  test('a grey shadow stays grey: its channels part by less than a fifth of the grain', () => {
    const [r, g, b] = lift(side(4))
    let square = 0
    for (let i = 0; i < length; i++)
      square += ((2 ** (r[i] - g[i]) - 1) ** 2 + (2 ** (b[i] - g[i]) - 1) ** 2) / 2
    expect(Math.sqrt(square / length)).toBeLessThan(0.2 * SIGMA)
  })
})

describe('a reference state of many frames', () => {
  const width = 24
  const frames = (passer: (i: number, k: number) => boolean): UnlitFrame[] =>
    Array.from({ length: 9 }, (_, k) => {
      const grain = normal(100 + k)
      const picture = frame(20, width, 3)
      for (let i = 0, j = 0; i < 20 * width; i++) {
        const light = (passer(i, k) ? 0.05 : 0.4) * (1 + 0.01 * grain())
        for (let c = 0; c < 3; c++, j++) picture.data[j] = light
      }
      return { frame: 1001 + k, picture, validity: new Float32Array(20 * width).fill(1), clipLevel: 1 }
    })

  test('somebody beside the region on three of nine frames leaves no trace in their mean', () => {
    const { before, after, validity } = referenceState(
      workspace,
      frames((i, k) => i % width < 6 && k % 3 === 0),
      1005,
      width,
    )
    for (const { channels } of [before, after])
      for (const v of channels[1]) expect(Math.abs(v / 0.4 - 1)).toBeLessThan(0.03)
    expect(new Set(validity)).toEqual(new Set([1]))
  })

  test('light that drifts by a twentieth of a stop over the frames is no passer-by', () => {
    const drifting = frames(() => false).map((f) => {
      for (let j = 0; j < f.picture.data.length; j++)
        f.picture.data[j] *= 2 ** (0.05 * ((f.frame - 1005) / 8))
      return f
    })
    const { before, after } = referenceState(workspace, drifting, 1005, width)
    const mean = (v: Readonly<Float32Array>) => v.reduce((a, b) => a + b, 0) / v.length
    // Half of the way from the mean of the first four frames to that of the last four.
    expect(Math.log2(mean(after.channels[1]) / mean(before.channels[1]))).toBeCloseTo(0.05 * (5 / 8), 2)
  })
})

describe('a shadow lifted from one time to another', { timeout: 30_000 }, () => {
  let folder: string
  let plate: ShadedPlate
  let result: Result
  let job: RepairJob
  let run: Candidate
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'offcut-ratio-'))
    plate = await plantShade(join(folder, 'plate'), {
      frames: 34,
      shades: [patch({ stops: -0.8, peak: 22, x: 78, y: 58, radius: 30 })],
      stops: (i) => 0.15 * Math.sin(i / 6),
      sway: (i) => [1.5 * Math.sin(i), Math.cos(i * 1.3)],
    })
    result = await findBorrow({ target: plate.folder, frames: '1003-1011', box: BOX, reach: 8 })
    job = await openRepair(result)
    run = result.candidates[0]
  }, 30_000)
  afterAll(() => rmSync(folder, { recursive: true }))

  test('its ratio is the planted one to 2 % RMS, per channel', async () => {
    const pass = new LightingPass(job, run)
    let square = 0
    let n = 0
    for (const match of run.frames) {
      const { ratio, rect, mask } = await pass.lift(match, { fade: { in: 0, out: 0 } })
      const i = match.target - 1001
      for (let y = 0, p = 0; y < rect.h; y++) {
        for (let x = 0; x < rect.w; x++, p++) {
          if (mask[p] === 0) continue
          const truth = plate.ratio(
            rect.x + x - 1.5 * Math.sin(i),
            rect.y + y - Math.cos(i * 1.3),
            match.donor,
          )
          for (let c = 0; c < 3; c++) {
            square += (ratio.data[3 * p + c] / truth - 1) ** 2
            n++
          }
        }
      }
    }
    expect(n).toBeGreaterThan(1000)
    expect(Math.sqrt(square / n)).toBeLessThan(0.02)
  })

  test('strength scales its stops; 0 is no change', async () => {
    const pass = new LightingPass(job, run)
    const match = run.frames[4]
    const [once, twice, none] = [
      await pass.lift(match),
      await pass.lift(match, { strength: 2 }),
      await pass.lift(match, { strength: 0 }),
    ]
    expect(Math.min(...once.ratio.data)).toBeLessThan(0.7)
    for (let i = 0; i < once.ratio.data.length; i++) {
      expect(Math.log2(twice.ratio.data[i])).toBeCloseTo(2 * Math.log2(once.ratio.data[i]), 4)
      expect(none.ratio.data[i]).toBe(1)
    }
    expect(none.repaired.data).toEqual(none.target.data)
  })

  test('it is 1 beyond the feather, and nowhere jumps at the mask’s edge', async () => {
    const { ratio, alpha } = await new LightingPass(job, run).lift(run.frames[4], { featherPx: 6 })
    expect(alpha).toContain(0)
    for (let p = 0; p < alpha.length; p++) if (alpha[p] === 0) expect(ratio.data[3 * p]).toBe(1)
    const partial = [...alpha].filter((a) => a > 0 && a < 1)
    expect(partial.length).toBeGreaterThan(100)
  })

  test('the ratio pass has the plate’s size, is 1 outside, and multiplies; whole frames keep the rest bit by bit', async () => {
    const ratios = mkdtempSync(join(folder, 'ratios-'))
    const wholes = mkdtempSync(join(folder, 'wholes-'))
    const names = await writeLighting(job, run, ratios)
    expect(names).toEqual(readdirSync(ratios).sort())
    expect(names[0]).toBe('quay_ratio.1003.exr')
    await writeLighting(job, run, wholes, { whole: true })
    const pass = await openPlate(ratios)
    expect([pass.width, pass.height]).toEqual([WIDTH, HEIGHT])
    const full = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
    const factors = await readRect(pass, 1007, full)
    const before = await readRect(await openPlate(plate.folder), 1007, full)
    const after = await readRect(await openPlate(wholes), 1007, full)
    expect(factors.data[0]).toBe(1)
    let changed = 0
    for (let i = 0; i < factors.data.length; i++) {
      const x = Math.floor(i / 3) % WIDTH
      const y = Math.floor(i / 3 / WIDTH)
      const far = x < BOX.x - 4 || y < BOX.y - 4 || x >= BOX.x + BOX.w + 4 || y >= BOX.y + BOX.h + 4
      if (far) expect([factors.data[i], after.data[i]]).toEqual([1, before.data[i]])
      else if (factors.data[i] !== 1) changed++
      // Half floats have 11 bits.
      expect(Math.abs(after.data[i] - before.data[i] * factors.data[i])).toBeLessThan(
        1e-3 * before.data[i] + 1e-4,
      )
    }
    expect(changed).toBeGreaterThan(1000)
  })

  test('a frame whose mask is black gets a ratio of 1 all over, and comes whole as the plate’s own', async () => {
    const [ratios, wholes] = [mkdtempSync(join(folder, 'ratios-')), mkdtempSync(join(folder, 'wholes-'))]
    const { result } = job
    const black = { ...job, result: { ...result, region: { ...result.region, empty: [1001] } } }
    const one = { ...run, frames: run.frames.slice(0, 1) }
    expect(await writeLighting(black, one, ratios)).toEqual(['quay_ratio.1001.exr', 'quay_ratio.1003.exr'])
    await writeLighting(black, one, wholes, { whole: true })
    const full = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
    const read = async (folder: string) => (await readRect(await openPlate(folder), 1001, full)).data
    expect(new Set(await read(ratios))).toEqual(new Set([1]))
    expect(await read(wholes)).toEqual(await read(plate.folder))
  })

  test('what no light can be and what a PNG can’t hold is told, with its frame', async () => {
    const one = { ...run, frames: [run.frames[4]] }
    const told = async (candidate: Candidate, strength: number) => {
      const beyond: [number, number][] = []
      const clipped: [number, number][] = []
      await writeLighting(job, candidate, mkdtempSync(join(folder, 'told-')), {
        whole: true,
        strength,
        onBeyondLight: (frame, stops) => beyond.push([frame, stops]),
        onClipped: (frame, most) => clipped.push([frame, most]),
      })
      return { beyond, clipped }
    }
    expect(await told(one, 1)).toEqual({ beyond: [], clipped: [] })
    // Unlit frames taken for three stops darker than they are, of something that may be no light: it is lifted by 2.2 at least.
    const quiet = { ...one.frames[0].quiet!, gain: [1 / 8, 1 / 8, 1 / 8] as [number, number, number] }
    const bright = {
      ...one,
      moment: { ...one.moment!, what: 'object' as const },
      frames: [{ ...one.frames[0], quiet }],
    }
    const over = await told(bright, 4)
    expect(over.beyond.map(([frame]) => frame)).toEqual([one.frames[0].target])
    expect(over.clipped.map(([frame]) => frame)).toEqual([one.frames[0].target])
    expect(over.clipped[0][1]).toBeGreaterThan(1)
  })

  test('a candidate of a hide has nothing to lift', () => {
    const hide = { ...run, moment: undefined }
    expect(() => new LightingPass(job, hide)).toThrow(expect.objectContaining({ code: 'MISUSE' }))
  })
})

describe('a porter walks through the shadow', { timeout: 30_000 }, () => {
  let folder: string
  let plate: ShadedPlate
  let result: Result
  const porter = (i: number) => (i >= 18 && i <= 26 ? { x: 112 - 9 * (i - 18), y: 30, w: 8, h: 46 } : null)
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'offcut-porter-'))
    plate = await plantShade(join(folder, 'plate'), {
      frames: 40,
      shades: [patch({ stops: -0.8, peak: 22, x: 78, y: 58, radius: 30, vx: 4 })],
      porter,
    })
    result = await findBorrow({ target: plate.folder, frames: '1003-1011', box: BOX })
  }, 30_000)
  afterAll(() => rmSync(folder, { recursive: true }))

  test('the shadow is lifted without him: under him it is what it is round about', async () => {
    const [run] = result.candidates
    expect(run.moment).toMatchObject({ what: 'light', sign: 'darker' })
    const pass = new LightingPass(await openRepair(result), run)
    let under = 0
    let square = 0
    for (const match of run.frames) {
      const thing = porter(match.donor - 1001)
      if (thing === null) continue
      const { ratio, rect, mask } = await pass.lift(match, { featherPx: 0 })
      for (let y = 0, p = 0; y < rect.h; y++) {
        for (let x = 0; x < rect.w; x++, p++) {
          const [u, v] = [rect.x + x - thing.x, rect.y + y - thing.y]
          if (mask[p] === 0 || u < 0 || v < 0 || u >= thing.w || v >= thing.h) continue
          const truth = plate.ratio(rect.x + x, rect.y + y, match.donor)
          square += (ratio.data[3 * p + 1] / truth - 1) ** 2
          under++
        }
      }
    }
    expect(under).toBeGreaterThan(1000)
    // Lifted with him it is off by a half; what he hides of the core can only be guessed from its rim.
    expect(Math.sqrt(square / under)).toBeLessThan(0.2)
  })
})
