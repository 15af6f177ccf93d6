import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../../src/footage/plate.js'
import { LightingPass } from '../../../src/repair/lighting/lighting-pass.js'
import { writeLighting } from '../../../src/repair/lighting/write.js'
import { openRepair, type RepairJob } from '../../../src/repair/repair.js'
import { findBorrow } from '../../../src/search/borrow/borrow.js'
import { type Fade, fadesOf } from '../../../src/search/borrow/fade.js'
import type { Candidate } from '../../../src/search/result.js'
import { picturesOf } from '../../../src/sheet/data/pictures.js'
import { expectRefusal } from '../../refusal.js'
import { patch, plantShade, type ShadedPlate } from '../../search/shaded.js'
import { HEIGHT, WIDTH } from '../../synthetic.js'

/** A run whose donors are `targets` + 100, and a moment on some of them. */
const run = (targets: readonly number[], start: number, peak: number, end: number) =>
  ({
    id: 'run+100',
    frames: targets.map((target) => ({ target, donor: target + 100 })),
    moment: { start, peak, end },
  }) as unknown as Candidate
const range = (a: number, b: number) => Array.from({ length: b - a + 1 }, (_, i) => a + i)
const course = (candidate: Candidate, fade?: Fade) => [...fadesOf(candidate, fade).values()]

describe('how much of a lift there is', () => {
  // By hand: t = 1/3 and 2/3 give t^2 (3 - 2 t) = 7/27 and 20/27; t = 1/2 gives 1/2.
  const [LITTLE, MUCH] = [7 / 27, 20 / 27]

  test.each([
    [
      'two frames at either end of a moment within the range, nothing beyond it',
      run(range(1, 10), 102, 105, 109),
      { in: 2, out: 1 },
      [0, LITTLE, MUCH, 1, 1, 1, 1, 1, 0.5, 0],
    ],
    [
      'no fade: all of it within the moment',
      run(range(1, 4), 102, 103, 103),
      { in: 0, out: 0 },
      [0, 1, 1, 0],
    ],
    [
      'a moment that began before the range fades in where the range begins',
      run(range(1, 5), 50, 104, 200),
      { in: 1, out: 0 },
      [0.5, 1, 1, 1, 1],
    ],
    [
      'where both reach a frame it has their product',
      run(range(1, 2), 101, 101, 102),
      { in: 2, out: 1 },
      [LITTLE, MUCH * 0.5],
    ],
    [
      'by default two frames at either end',
      run(range(1, 7), 101, 104, 107),
      undefined,
      [LITTLE, MUCH, 1, 1, 1, MUCH, LITTLE],
    ],
    ['by default never over the peak', run(range(1, 3), 90, 101, 102), undefined, [1, 0.5, 0]],
    ['of a single frame all there is', run([4], 90, 104, 120), undefined, [1]],
    ['even of one that is not the peak', run([4], 90, 108, 120), undefined, [1]],
    [
      'a frame that the range leaves out counts',
      run([1, 3, 5], 101, 105, 105),
      { in: 2, out: 0 },
      [LITTLE, 1, 1],
    ],
    ['a range that misses the moment has none of it', run(range(1, 3), 110, 112, 115), undefined, [0, 0, 0]],
  ] as const)('%s', (_, candidate, fade, wanted) => {
    const found = course(candidate, fade)
    expect(found).toHaveLength(wanted.length)
    for (const [i, share] of found.entries()) expect(share).toBeCloseTo(wanted[i], 12)
  })

  test.each([
    ['negative', { in: -1, out: 0 }],
    ['half a frame', { in: 0, out: 1.5 }],
    ['longer than the range of four frames', { in: 5, out: 0 }],
  ])('%s is refused', async (_, fade) => {
    await expectRefusal(() => fadesOf(run(range(1, 4), 101, 102, 104), fade), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['`fade`', "each 0 to the range's 4", `${fade.in},${fade.out}`],
    })
  })
})

describe('a shadow that comes and goes within the range', { timeout: 60_000 }, () => {
  const BOX = { x: 56, y: 40, w: 44, h: 36 }
  const FULL = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
  const FADE = { in: 3, out: 2 }
  let folder: string
  let plate: ShadedPlate
  let job: RepairJob
  let top: Candidate
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'offcut-fade-'))
    plate = await plantShade(join(folder, 'plate'), {
      frames: 50,
      shades: [patch({ stops: -0.8, peak: 38, x: 78, y: 58, radius: 30, vx: 12 })],
    })
    const result = await findBorrow({ target: plate.folder, frames: '1003-1023', box: BOX })
    job = await openRepair(result)
    top = result.candidates[0]
  }, 60_000)
  afterAll(() => {
    job.close()
    rmSync(folder, { recursive: true })
  })

  test('beyond the moment the ratio is 1 bit for bit, and whole frames have the plate’s own samples', async () => {
    const [ratios, wholes] = [mkdtempSync(join(folder, 'ratios-')), mkdtempSync(join(folder, 'wholes-'))]
    await writeLighting(job, top, ratios, { fade: FADE })
    await writeLighting(job, top, wholes, { fade: FADE, whole: true })
    const [ratio, whole, own] = await Promise.all([ratios, wholes, plate.folder].map((f) => openPlate(f)))
    const { start, end } = top.moment!
    let beyond = 0
    for (const { target, donor } of top.frames) {
      const factors = (await readRect(ratio, target, FULL)).data
      const isBeyond = donor < start || donor > end
      expect(factors.every((v) => v === 1)).toBe(isBeyond)
      if (!isBeyond) continue
      beyond++
      expect((await readRect(whole, target, FULL)).data).toEqual((await readRect(own, target, FULL)).data)
    }
    expect(beyond).toBeGreaterThan(4)
  })

  test('its stops are scaled by the ramp, as the sheet shows them', async () => {
    const pass = new LightingPass(job, top)
    const sheet = picturesOf(job)
    const shares = fadesOf(top, FADE)
    const defaults = fadesOf(top)
    let ramps = 0
    for (const match of top.frames) {
      const full = await pass.lift(match, { fade: { in: 0, out: 0 } })
      const faded = await pass.lift(match, { fade: FADE })
      const share = shares.get(match.target)!
      if (share > 0 && share < 1) ramps++
      for (let i = 0; i < full.ratio.data.length; i += 7)
        expect(Math.log2(faded.ratio.data[i])).toBeCloseTo(share * Math.log2(full.ratio.data[i]), 5)
      const shown = (await sheet.pictures(top, match)).ratio!
      const byDefault = defaults.get(match.target)!
      for (let i = 0; i < full.ratio.data.length; i += 7)
        expect(Math.log2(shown.data[i])).toBeCloseTo(byDefault * Math.log2(full.ratio.data[i]), 5)
    }
    expect(ramps).toBe(FADE.in + FADE.out)
  })

  test('with the default no step at the moment’s ends is larger than those within it', async () => {
    const pass = new LightingPass(job, top)
    const stops: number[] = []
    for (const match of top.frames) {
      const { ratio, mask } = await pass.lift(match)
      let sum = 0
      for (let p = 0; p < mask.length; p++) sum += mask[p] * Math.log2(ratio.data[3 * p + 1])
      stops.push(sum)
    }
    const within = top.frames.map(({ donor }) => donor >= top.moment!.start && donor <= top.moment!.end)
    const step = (i: number) => Math.abs(stops[i] - stops[i - 1])
    const inner = Math.max(...stops.map((_, i) => (i > 0 && within[i] && within[i - 1] ? step(i) : 0)))
    const ends = Math.max(...stops.map((_, i) => (i > 0 && within[i] !== within[i - 1] ? step(i) : 0)))
    expect(ends).toBeGreaterThan(0)
    expect(ends).toBeLessThan(0.1 * inner)
  })
})
