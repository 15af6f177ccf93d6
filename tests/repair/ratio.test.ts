import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { RatioLifter } from '../../src/repair/ratio.js'
import { blur, pickScales, ratioAt, ratioScratch } from '../../src/repair/ratio-estimate.js'
import { openRepair, type RepairJob } from '../../src/repair/repair.js'
import { writeRatios } from '../../src/repair/write-ratio.js'
import { findBorrow } from '../../src/search/borrow.js'
import type { Candidate, Result } from '../../src/search/result.js'
import { patch, plantShade, type ShadedPlate } from '../search/shaded.js'
import { HEIGHT, normal, WIDTH } from '../synthetic.js'

const BOX = { x: 56, y: 40, w: 44, h: 36 }

describe('the ratio of two pictures', () => {
  const width = 48
  const length = width * 40
  const trust = new Float32Array(length).fill(1)
  const scratch = ratioScratch(length)
  const at = (donor: Float32Array, quiet: Float32Array, variance: number, scale = 2) => {
    const out = new Float32Array(length)
    ratioAt(donor, quiet, trust, new Float32Array(length).fill(variance), width, scale, scratch, out)
    return out
  }
  const quiet = Float32Array.from({ length }, (_, i) => 0.2 + 0.05 * Math.sin(i * 1.7))

  // Hand-computed: a shadow of 0.62 stops leaves 2^-0.62 = 0.6507 of the light.
  test.each([
    [-0.62, 0.65067],
    [-1, 0.5],
    [0.5, Math.SQRT2],
  ])('%s stops are a factor of %s', (stops, factor) => {
    for (const r of at(
      quiet.map((v) => v * 2 ** stops),
      quiet,
      1e-6,
    ))
      expect(r).toBeCloseTo(factor, 4)
  })

  test('grain in the dark does not explode: where there is no light the ratio goes to 1', () => {
    const grain = normal(5)
    const dark = quiet.map(() => 1e-5)
    const noisy = dark.map((v) => Math.max(0, v + 0.002 * grain()))
    for (const r of at(noisy, dark, 0.002 ** 2)) expect(Math.abs(r - 1)).toBeLessThan(0.25)
    expect(noisy.reduce((a, b) => a + b) / length / 1e-5).toBeGreaterThan(50)
  })

  test('pixels that are not trusted have no say, be they anything', () => {
    const donor = quiet.map((v) => v / 2)
    const some = trust.map((_, i) => (i % 3 === 0 ? 0 : 1))
    const spoilt = donor.map((v, i) => (some[i] === 0 ? Number.NaN : v))
    const out = new Float32Array(length)
    ratioAt(spoilt, quiet, some, new Float32Array(length).fill(1e-8), width, 2, scratch, out)
    for (const r of out) expect(r).toBeCloseTo(0.5, 3)
  })

  test('nothing trusted at all is no change', () => {
    const out = new Float32Array(length)
    ratioAt(quiet, quiet, new Float32Array(length), trust, width, 2, scratch, out)
    expect(new Set(out)).toEqual(new Set([1]))
  })

  test('the window widens in smooth light and stays narrow at an edge, and where wider gains nothing', () => {
    const grain = normal(9)
    const edge = Float32Array.from({ length }, (_, i) => (i % width < width / 2 ? 1 : 0.5))
    const ratios = [1, 2, 4].map((scale) =>
      at(
        edge.map((v, i) => v * quiet[i] * (1 + 0.02 * grain())),
        quiet,
        1e-5,
        scale,
      ),
    )
    const white = [0.006, 0.003, 0.0015].map((e) => new Float32Array(length).fill(e))
    const pick = new Uint8Array(length)
    pickScales(ratios, white, pick)
    const row = 20 * width
    expect(pick[row + width / 2]).toBe(0)
    expect(pick[row + 4]).toBe(2)
    pickScales(
      ratios,
      white.map((_, k) => new Float32Array(length).fill(0.006 * 0.95 ** k)),
      pick,
    )
    expect(new Set(pick)).toEqual(new Set([0]))
  })

  test('a blur keeps a flat picture flat, and a dot’s variance is r (r + 1)', () => {
    const flat = new Float32Array(64 * 64).fill(0.37)
    blur(flat, 64, 3, new Float32Array(64 * 64))
    for (const v of flat) expect(v).toBeCloseTo(0.37, 5)
    const dot = new Float32Array(64 * 64)
    dot[32 * 64 + 32] = 1
    blur(dot, 64, 3, new Float32Array(64 * 64))
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
    const lifter = new RatioLifter(job, run)
    let square = 0
    let n = 0
    for (const match of run.frames) {
      const { ratio, rect, mask } = await lifter.lift(match)
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
    const lifter = new RatioLifter(job, run)
    const match = run.frames[4]
    const [once, twice, none] = [
      await lifter.lift(match),
      await lifter.lift(match, { strength: 2 }),
      await lifter.lift(match, { strength: 0 }),
    ]
    expect(Math.min(...once.ratio.data)).toBeLessThan(0.7)
    for (let i = 0; i < once.ratio.data.length; i++) {
      expect(Math.log2(twice.ratio.data[i])).toBeCloseTo(2 * Math.log2(once.ratio.data[i]), 4)
      expect(none.ratio.data[i]).toBe(1)
    }
    expect(none.repaired.data).toEqual(none.target.data)
  })

  test('it is 1 beyond the feather, and nowhere jumps at the mask’s edge', async () => {
    const { ratio, alpha } = await new RatioLifter(job, run).lift(run.frames[4], { featherPx: 6 })
    expect(alpha).toContain(0)
    for (let p = 0; p < alpha.length; p++) if (alpha[p] === 0) expect(ratio.data[3 * p]).toBe(1)
    const partial = [...alpha].filter((a) => a > 0 && a < 1)
    expect(partial.length).toBeGreaterThan(100)
  })

  test('the ratio pass has the plate’s size, is 1 outside, and multiplies; whole frames keep the rest bit by bit', async () => {
    const ratios = mkdtempSync(join(folder, 'ratios-'))
    const wholes = mkdtempSync(join(folder, 'wholes-'))
    const names = await writeRatios(job, run, ratios)
    expect(names).toEqual(readdirSync(ratios).sort())
    expect(names[0]).toBe('quay_ratio.1003.exr')
    await writeRatios(job, run, wholes, { whole: true })
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

  test('a candidate of a hide has nothing to lift', () => {
    const hide = { ...run, moment: undefined }
    expect(() => new RatioLifter(job, hide)).toThrow(expect.objectContaining({ code: 'MISUSE' }))
  })
})
