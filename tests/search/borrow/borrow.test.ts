import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findBorrow } from '../../../src/search/borrow/borrow.js'
import { type Candidate, type Result, resultSchema } from '../../../src/search/result.js'
import { expectRefusal } from '../../refusal.js'
import { boxOf, plantMask, texturedWall } from '../../synthetic.js'
import { patch, plantShade, type Shade } from '../shaded.js'
import { expectBestFirst } from '../valid.js'

// Truth is planted throughout: the shade's formula gives peak, depth and ratio.

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-borrow-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 56, y: 40, w: 44, h: 36 }
const MIDDLE = { x: BOX.x + BOX.w / 2, y: BOX.y + BOX.h / 2 }
const light = (r: Result) => r.candidates.filter((c) => c.moment!.what === 'light')

function expectBorrow(result: Result): void {
  expect(resultSchema.safeParse(result).error).toBeUndefined()
  expect(result.aim).toBe('borrow')
  const { peak } = result.borrow!
  expectBestFirst(result.candidates)
  for (const c of result.candidates) {
    const m = c.moment!
    expect(c.timeOffset).toBe(m.peak - peak)
    expect(m.start).toBeLessThanOrEqual(m.peak)
    expect(m.end).toBeGreaterThanOrEqual(m.peak)
    for (const f of c.frames) expect(f.donor - f.target).toBe(c.timeOffset)
  }
  const kinds = result.candidates.map((c) => c.moment!.what)
  if (kinds.includes('object')) expect(kinds.lastIndexOf('light')).toBeLessThan(kinds.indexOf('object'))
}

describe('a heron’s shadow passes at 1024 and a porter at 1034', () => {
  let result: Result
  let top: Candidate
  beforeAll(async () => {
    const plate = await plantShade(join(folder, 'heron'), {
      shades: [patch({ stops: -0.6, peak: 23, ...MIDDLE })],
      porter: (i) => (i > 29 && i < 38 ? { x: 20 + 14 * (i - 30), y: 30, w: 26, h: 60 } : null),
      stops: (i) => 0.1 * Math.sin(i / 5),
    })
    result = await findBorrow({ target: plate.folder, frames: '1003-1011', box: BOX })
    top = result.candidates[0]
  }, 30_000)

  test('the result is valid, and things lie below light', () => expectBorrow(result))

  test('the run lands the peak on the middle of the range', () => {
    expect(top.moment).toMatchObject({ what: 'light', sign: 'darker', peak: 1024, donor: 0 })
    expect(top.id).toBe('run+17')
    expect(top.timeOffset).toBe(17)
  })

  test('depth is right to 5 %, and a neutral shadow has no colour', () => {
    expect(Math.abs(top.moment!.depthStops / 0.6 - 1)).toBeLessThan(0.05)
    for (const c of top.moment!.colour) expect(Math.abs(c - 1)).toBeLessThan(0.01)
  })

  test('the wall’s texture stays under the shadow and goes under the porter', () => {
    expect(top.moment!.surface!).toBeGreaterThan(0.9)
    const porter = result.candidates.find((c) => c.moment!.what === 'object')!
    expect(porter.moment!.peak).toBeGreaterThan(1030)
    expect(porter.moment!.surface!).toBeLessThan(0.5)
    expect(porter.verdict).toBe('will not hold')
  })

  test('the reference state is made of frames on which nothing happens', () => {
    for (const f of top.moment!.quiet!) expect(f < top.moment!.start || f > top.moment!.end).toBe(true)
    expect(top.moment!.quietState!.reduce((sum, q) => sum + q.weight, 0)).toBeCloseTo(1, 6)
  })

  test('another peak moves the time offset by as much', async () => {
    const other = await findBorrow({
      target: join(folder, 'heron'),
      frames: '1003-1011',
      box: BOX,
      peak: 1005,
    })
    expect(other.candidates[0].timeOffset).toBe(19)
    expectBorrow(other)
  })

  test('a frame whose mask is black is passed over, by the region and by the surface that is hunted on', async () => {
    const [x, y, w, h] = [BOX.x, BOX.y, BOX.w, BOX.h]
    const masks = join(folder, 'black')
    mkdirSync(masks)
    for (let f = 1003; f <= 1011; f++)
      await plantMask(join(masks, `m.${f}.png`), f === 1003 ? () => 0 : boxOf(x, y, w, h))
    const asked = { target: join(folder, 'heron'), frames: '1003-1011', mask: masks }
    const other = await findBorrow({ ...asked, lookIn: masks, offset: { dx: 0, dy: 0 } })
    expectBorrow(other)
    expect(other.region.empty).toEqual([1003])
    expect(other.candidates[0].frames.map((f) => f.target)).not.toContain(1003)
    await expectRefusal(() => findBorrow({ ...asked, peak: 1003 }), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['`peak`', 'not black', '1004-1011', '1003'],
    })
  })

  test('only what gets brighter: the shadow is not there', async () => {
    const r = await findBorrow({
      target: join(folder, 'heron'),
      frames: '1003-1011',
      box: BOX,
      sign: 'brighter',
    })
    expect(light(r)).toEqual([])
    expect(r.candidates.every((c) => c.moment!.sign === 'brighter')).toBe(true)
  })

  test.each([
    ['a peak outside the range', { peak: 1020 }],
    ['a frame to be like that no plate has', { like: 2000 }],
  ])('%s is refused', async (_, options) => {
    const asked = findBorrow({ target: join(folder, 'heron'), frames: '1003-1011', box: BOX, ...options })
    await expect(asked).rejects.toMatchObject({ code: 'MISUSE' })
  })

  test('a range into which the change does not fit says so, and so does one that leaves the plate', async () => {
    const short = await findBorrow({ target: join(folder, 'heron'), frames: '1006-1008', box: BOX })
    const [, frames, first] = /it does not cover all 9 frames of the change; ((\d+)-\d+) does(?:;|$)/.exec(
      short.candidates[0].why,
    )!
    // Who asks for these frames gets it whole.
    const all = await findBorrow({ target: join(folder, 'heron'), frames, box: BOX, peak: 1007 })
    expect(Number(first)).toBeLessThan(1006)
    expect(all.candidates[0].id).toBe(short.candidates[0].id)
    expect(all.candidates[0].why).not.toMatch(/does not cover/)
    const wide = await findBorrow({
      target: join(folder, 'heron'),
      frames: '1001-1011',
      box: BOX,
      peak: 1001,
      donorFrames: '1020-1030',
    })
    expect(wide.candidates[0].why).toMatch(/leaves the plate for \d+ of 11 frames/)
    expect(wide.candidates[0].frames.length).toBeLessThan(11)
  })
})

test('a porter who crosses a shadow at its peak leaves no dent in its course', async () => {
  const plate = await plantShade(join(folder, 'crossed'), {
    shades: [patch({ stops: -0.7, peak: 22, ...MIDDLE, vx: 4, radius: 30 })],
    porter: (i) => (i >= 20 && i <= 25 ? { x: 112 - 14 * (i - 20), y: 30, w: 12, h: 60 } : null),
  })
  const result = await findBorrow({ target: plate.folder, frames: '1003-1011', box: BOX })
  expectBorrow(result)
  const { start, peak, end, depths } = result.candidates[0].moment!
  expect(Math.abs(peak - 1023)).toBeLessThanOrEqual(1)
  // A shadow that crosses at an even pace gets stronger to its peak and then weaker.
  const course = depths!.filter((d) => d.frame >= start && d.frame <= end)
  const strongest = Math.min(...course.map((d) => d.stops))
  for (const [i, d] of course.entries()) {
    const next = course[i + 1]
    if (!next) continue
    const rise = d.frame < peak ? d.stops - next.stops : next.stops - d.stops
    expect(rise).toBeGreaterThan(0.1 * strongest)
  }
}, 20_000)

test('a reflection is found the same way, brighter, from another take before a swaying camera', async () => {
  const sway = (i: number) => [2 * Math.sin(i * 0.8), 1.5 * Math.cos(i * 0.5)] as const
  const quiet = await plantShade(join(folder, 'take1'), { frames: 14, sway, start: 5 })
  const take = await plantShade(join(folder, 'take2'), {
    frames: 30,
    sway: (i) => sway(i + 7),
    stops: () => 0.3,
    shades: [patch({ stops: 0.4, peak: 16, ...MIDDLE })],
    tint: [1.1, 1, 0.9],
  })
  const r = await findBorrow({
    target: quiet.folder,
    frames: '1003-1011',
    box: BOX,
    donors: [take.folder],
    reach: 8,
  })
  expectBorrow(r)
  const top = r.candidates[0]
  expect(top.moment).toMatchObject({ what: 'light', sign: 'brighter', donor: 1 })
  expect(Math.abs(top.moment!.peak - 1017)).toBeLessThanOrEqual(1)
  expect(Math.abs(top.moment!.depthStops / 0.4 - 1)).toBeLessThan(0.1)
  const [red, , blue] = top.moment!.colour
  expect(red).toBeGreaterThan(1.01)
  expect(blue).toBeLessThan(0.99)
  for (const f of top.frames) {
    const [tx, ty] = sway(f.target - 1001)
    const [dx, dy] = sway(f.donor - 1001 + 7)
    expect(Math.hypot(f.dx - (tx - dx), f.dy - (ty - dy))).toBeLessThan(0.1)
    expect(Math.abs(f.stops! + 0.3)).toBeLessThan(0.02)
  }
}, 30_000)

test('no change at all: no candidate, and the strongest thing seen is named', async () => {
  const plate = await plantShade(join(folder, 'empty'), { frames: 20 })
  const r = await findBorrow({ target: plate.folder, frames: '1003-1007', box: BOX })
  expect(r.candidates).toEqual([])
  expect(r.warnings.join()).toMatch(
    /no change of light to borrow: (the strongest is|nothing rises above grain)/,
  )
}, 30_000)

test('a change below what counts is named as the strongest', async () => {
  const faint = patch({ stops: -0.06, peak: 12, ...MIDDLE, radius: 9, vx: 6 })
  const plate = await plantShade(join(folder, 'faint'), { frames: 20, shades: [faint], noise: 0.002 })
  const r = await findBorrow({ target: plate.folder, frames: '1001-1003', box: BOX })
  expect(r.candidates).toEqual([])
  expect(r.warnings.join()).toMatch(
    /the strongest is 0\.00\d stops darker over the region, on frame 101[2-4]/,
  )
}, 30_000)

test('bands of mains light that roll through the picture: how deep a change must be is said, and of a steady light nothing', async () => {
  const bands: Shade = (_, y, index) => 0.3 * Math.sin(2 * Math.PI * (y / 90 + 0.37 * index))
  const shadow = patch({ stops: -0.5, peak: 20, ...MIDDLE, vx: 3 })
  const warned = async (name: string, shades: readonly Shade[]) => {
    const { folder: target } = await plantShade(join(folder, name), { shades })
    const { warnings } = await findBorrow({ target, frames: '1002-1008', box: BOX })
    return warnings.flatMap(
      (w) => /is never at rest.*: a change below ([\d.]+) stops can't/.exec(w)?.[1] ?? [],
    )
  }
  const [least] = await warned('bands', [shadow, bands])
  // More than the bands reach; no spread is larger than that, and four of them are told from chance.
  expect(Number(least)).toBeGreaterThan(0.3)
  expect(Number(least)).toBeLessThanOrEqual(1.2)
  expect(await warned('steady', [shadow])).toEqual([])
}, 60_000)

describe('the next panel of the wall, 60 px to the left', () => {
  // Two equal panels: what passes over the left one is wanted on the right one.
  const wall = texturedWall(3)
  const panels = (x: number, y: number) => wall(((x % 60) + 60) % 60, y)
  const right = { x: 92, y: 40, w: 36, h: 36 }
  const left = { ...right, x: right.x - 60 }
  let plate: { folder: string }
  beforeAll(async () => {
    const shadow = patch({ stops: -0.5, peak: 18, x: left.x + 18, y: left.y + 18, vx: 0, vy: 7, radius: 20 })
    plate = await plantShade(join(folder, 'panels'), { frames: 30, shades: [shadow], wall: panels })
  })

  test('is hunted on, and alignment finds the offset that a residual box misses', async () => {
    const residual = { ...left, x: left.x + 3, y: left.y - 2 }
    const r = await findBorrow({ target: plate.folder, frames: '1003-1009', box: right, lookIn: residual })
    expectBorrow(r)
    expect(r.candidates[0].moment).toMatchObject({ what: 'light', sign: 'darker' })
    // The box lies 2 px higher than the shadow's path was made for, a third of a frame's way.
    expect(Math.abs(r.candidates[0].moment!.peak - 1019)).toBeLessThanOrEqual(1)
    expect(r.borrow!.lookIn).toEqual([residual.x, residual.y, residual.w, residual.h])
    for (const f of r.candidates[0].frames) expect(Math.hypot(f.dx - 60, f.dy)).toBeLessThan(0.1)
  }, 30_000)

  test('an offset by hand is taken as it is, and alone says where to look', async () => {
    const r = await findBorrow({
      target: plate.folder,
      frames: '1003-1009',
      box: right,
      offset: { dx: 58, dy: 1 },
    })
    expect(r.candidates[0].moment).toMatchObject({ what: 'light', peak: 1019 })
    for (const f of r.candidates[0].frames) expect([f.dx, f.dy]).toEqual([58, 1])
  }, 30_000)
})

test('of two shadows the one like the named frame comes first', async () => {
  const deep = patch({ stops: -0.9, peak: 14, ...MIDDLE, radius: 40 })
  const light = patch({ stops: -0.3, peak: 30, x: MIDDLE.x, y: MIDDLE.y - 8, radius: 18 })
  const plate = await plantShade(join(folder, 'two'), { frames: 40, shades: [deep, light] })
  const ask = { target: plate.folder, frames: '1001-1003', box: BOX }
  for (const [like, peak] of [
    [1015, 1015],
    [1031, 1031],
  ]) {
    const r = await findBorrow({ ...ask, like })
    expect(r.candidates[0].moment!.peak).toBe(peak)
    expect(r.candidates[0].moment!.likeness!).toBeGreaterThan(0.95)
    expect(r.candidates.length).toBe(2)
  }
}, 30_000)

describe('one change with long tails', () => {
  // Local, as a change of all that is seen is the plate's own light.
  const near = (x: number, y: number) => {
    const t = Math.min(1, Math.max(0, (46 - Math.hypot(x - MIDDLE.x, y - MIDDLE.y)) / 14))
    return t * t * (3 - 2 * t)
  }
  const fading = (stops: number, peak: number, frames: number) => (x: number, y: number, index: number) =>
    stops * near(x, y) * Math.exp(-Math.abs(index - peak) / frames)
  const swelling = (stops: number, peak: number, frames: number) => (x: number, y: number, index: number) =>
    stops * near(x, y) * Math.exp(-(((index - peak) / frames) ** 2))

  test.each([
    ['a shadow that comes and goes slowly', fading(-0.9, 60, 9), 'darker'],
    ['a gleam that does', fading(0.9, 60, 9), 'brighter'],
    ['a deep shadow that swells', swelling(-1.5, 60, 14), 'darker'],
  ] as const)(
    '%s is one candidate',
    async (title, shade, sign) => {
      const plate = await plantShade(join(folder, title.replaceAll(' ', '-')), {
        frames: 110,
        shades: [shade],
      })
      const r = await findBorrow({ target: plate.folder, frames: '1005-1007', box: BOX })
      expectBorrow(r)
      expect(r.candidates.map((c) => c.moment!.sign)).toEqual([sign])
      expect(Math.abs(r.candidates[0].moment!.peak - 1061)).toBeLessThanOrEqual(1)
    },
    60_000,
  )

  test('two shadows, a deep and a faint one, are two', async () => {
    const shades = [swelling(-1.2, 30, 8), swelling(-0.1, 70, 6)]
    const plate = await plantShade(join(folder, 'deep-and-faint'), { frames: 100, shades })
    const r = await findBorrow({ target: plate.folder, frames: '1002-1004', box: BOX })
    expect(r.candidates.map((c) => c.moment!.peak)).toEqual([1031, 1071])
  }, 60_000)
})

test.each([-0.5, -1.2])(
  'a hard shadow of %d stops, whose edge is a pixel or two wide, is found and held up as a soft one is',
  async (stops) => {
    const hard: Shade = (x, y, i) => {
      const from = 15 - Math.hypot(x - MIDDLE.x - 2 * (i - 23), 1.2 * (y - MIDDLE.y))
      // It comes and goes in light, within the mask.
      return (
        stops *
        Math.min(1, Math.max(0, (6 - Math.abs(i - 23)) / 3)) *
        Math.min(1, Math.max(0, 0.5 + from / 1.6))
      )
    }
    const plate = await plantShade(join(folder, `hard${stops}`), { frames: 44, shades: [hard] })
    const box = { x: BOX.x - 12, y: BOX.y - 4, w: BOX.w + 24, h: BOX.h + 8 }
    const r = await findBorrow({ target: plate.folder, frames: '1001-1013', box })
    expectBorrow(r)
    expect(r.candidates[0]).toMatchObject({
      verdict: 'holds up',
      moment: { what: 'light', sign: 'darker', peak: 1024 },
    })
    expect(Math.abs(r.candidates[0].moment!.depthStops / -stops - 1)).toBeLessThan(0.1)
  },
  60_000,
)

describe('bodywork that crosses a wall whose texture is hardly more than grain', () => {
  const texture = texturedWall(8)
  const wall = (x: number, y: number) => 0.3 * (1 + 0.1 * (texture(x, y) - 0.4))
  const lorry = (i: number) => (i > 19 && i < 32 ? { x: 170 - 16 * (i - 19), y: 30, w: 96, h: 56 } : null)

  test.each([
    ['red', [0.5, 0.1, 0.1]],
    ['dark', [0.12, 0.12, 0.12]],
    ['white', [0.75, 0.75, 0.7]],
  ] as const)(
    '%s: nothing of it holds up or is called light',
    async (name, paint) => {
      const plate = await plantShade(join(folder, `lorry-${name}`), {
        frames: 44,
        wall,
        paint,
        porter: lorry,
      })
      const r = await findBorrow({ target: plate.folder, frames: '1003-1011', box: BOX })
      expectBorrow(r)
      expect(r.candidates.length).toBeGreaterThan(0)
      for (const c of r.candidates) expect([c.verdict, c.moment!.what]).toEqual(['will not hold', 'object'])
    },
    60_000,
  )

  test('a shadow of that depth on that wall is light, and holds up', async () => {
    const shades = [patch({ stops: -1.2, peak: 23, ...MIDDLE })]
    const plate = await plantShade(join(folder, 'lorry-shadow'), { frames: 44, wall, shades })
    const r = await findBorrow({ target: plate.folder, frames: '1001-1013', box: BOX })
    expect(r.candidates.map((c) => c.moment!.what)).toEqual(['light'])
    expect(r.candidates[0].verdict).not.toBe('will not hold')
  }, 60_000)
})

test('of a cloud’s shadow that crosses the whole picture nothing holds up: most of it is the picture’s own light, and is not lifted', async () => {
  const edge = (px: number) => {
    const t = Math.min(1, Math.max(0, 0.5 + px / 60))
    return t * t * (3 - 2 * t)
  }
  const cloud: Shade = (u, _v, i) => -0.6 * edge(9 * (i - 14) - u) * (1 - edge(9 * (i - 38) - u))
  const plate = await plantShade(join(folder, 'cloud'), { shades: [cloud], frames: 70 })
  const found = await findBorrow({ target: plate.folder, frames: '1001-1009', box: BOX })
  expect(light(found).length).toBeGreaterThan(0)
  for (const c of light(found)) expect(c.verdict).not.toBe('holds up')
  expect(light(found)[0].why).toContain('the whole picture gets darker by up to')
}, 30_000)
