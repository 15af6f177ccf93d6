// Planted truth: frames in grain that we chose, a part of which is taken to be a patch, as bright as the ring round it or not.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame } from '../../../src/raster/frame.js'
import { cutSamples } from '../../../src/raster/plane.js'
import { boxMask } from '../../../src/region/mask.js'
import { featheredAlpha, makeRegion } from '../../../src/region/region.js'
import type { PatchFinish } from '../../../src/repair/finish/finish.js'
import { FinishMeter } from '../../../src/repair/finish/meter.js'
import { lyingOn, type Seen } from '../../../src/repair/grain/laid-frames.js'
import { grainOfLying, middleOf } from '../../../src/repair/grain/measure.js'
import { finishWarnings } from '../../../src/repair/hand-over/finish-warnings.js'
import type { Patch } from '../../../src/repair/hand-over/patch.js'
import type { RepairJob } from '../../../src/repair/repair.js'
import { normal } from '../../synthetic.js'
import { type GrainOptions, grainy, H, W } from '../grain/grainy.js'

const workspace = new Workspace()
const BOX = { x: 32, y: 28, w: 48, h: 40 }
const LEVEL = 0.01
/** The patch lies on a dark thing, the ring on a wall on which the light falls off. */
const DARK = 0.2
const lit = (x: number, y: number) => (isInside(x, y) ? DARK : 0.12 + (0.6 * x) / W)
const FRAMES = 9

const plates = new Map<string, readonly Seen[]>()
/** The same plate for the same grain. */
function plateOf(options: GrainOptions): Seen[] {
  const key = `${JSON.stringify(options)} ${options.place}`
  const plate = plates.get(key) ?? grainy({ light: lit, frames: FRAMES, ...options })
  plates.set(key, plate)
  return plate.map(({ frame: number, picture }) => ({
    frame: number,
    picture: frame(H, W, 3, picture.data.slice()),
  }))
}

function isInside(x: number, y: number): boolean {
  return x >= BOX.x && x < BOX.x + BOX.w && y >= BOX.y && y < BOX.y + BOX.h
}

/** A plate, and what its patch does to it: per frame and pixel of the box. */
interface Planting extends GrainOptions {
  readonly change?: (light: number, frame: number, random: () => number) => number
  /** Linear-light factor of what is lent, beside the mask too. */
  readonly gain?: number
  readonly passes?: (x: number, y: number, frame: number) => boolean
  /** Factor of what a codec keeps of the grain in blocks of 16 pixels, anew for each frame: standard deviation of its logarithm. */
  readonly uneven?: number
}

function finished({
  change,
  gain = 1,
  passes,
  uneven,
  ...grain
}: Planting): PatchFinish & { warnings: string[]; asIfEven: string[] } {
  const { place } = grain
  const seen = plateOf(grain)
  if (uneven !== undefined) for (const { picture } of seen) keepUnevenly(picture, uneven)
  for (const { frame: number, picture } of seen)
    for (let i = 0; i < W * H; i++)
      if (passes?.(i % W, Math.floor(i / W), number)) picture.data.fill(0.02, 3 * i, 3 * i + 3)
  const plate = { width: W, height: H }
  const mask = boxMask(BOX, plate)
  const region = makeRegion(new Map(seen.map(({ frame: number }) => [number, mask])), plate, 24)
  const job = { region, workspace, target: { clipLevel: 10 }, result: {} } as unknown as RepairJob
  const outside = Float32Array.from({ length: W * H }, (_, i) => (isInside(i % W, Math.floor(i / W)) ? 0 : 1))
  const middle = middleOf(seen)!
  const full = { x: 0, y: 0, w: W, h: H }
  const grainOn = (trusted: Float32Array, all: boolean) => {
    const lying = lyingOn(workspace, middle, seen, outside, false)
    const model = grainOfLying(workspace, lying, middle, trusted, 10, all, true)
    return model && { ...model, where: model.where && cutSamples(model.where, full, region.window) }
  }
  const around = grainOn(outside, false)
  const beside = around && { ...around, where: null }
  const own =
    place &&
    grainOn(
      outside.map((v) => 1 - v),
      true,
    )
  const meter = new FinishMeter(
    job,
    around && { within: own ?? beside!, beside: beside!, around, near: null, pace: null, inside: null },
  )
  const random = normal(7)
  for (const each of seen) meter.add(each.frame, made(each, region.frames.get(each.frame)!.inside))
  function made({ frame: number, picture }: Seen, inside: Float32Array) {
    const { x, y, w, h } = region.window
    const [target, patch, repaired] = [0, 1, 2].map(() => frame(h, w, 3))
    const alpha = featheredAlpha(inside, w, 4)
    // Beside the mask the donor has grain of its own.
    const lent = seen[(number - 1001 + 4) % seen.length].picture
    for (let v = 0, i = 0; v < h; v++)
      for (let u = 0; u < w; u++, i++)
        for (let c = 0; c < 3; c++) {
          const at = 3 * ((y + v) * W + x + u) + c
          const own = change?.(picture.data[at], number, random) ?? picture.data[at]
          target.data[3 * i + c] = picture.data[at]
          patch.data[3 * i + c] = gain * (alpha[i] > 0 ? own : lent.data[at])
          repaired.data[3 * i + c] = alpha[i] > 0 ? patch.data[3 * i + c] : picture.data[at]
        }
    return { target, patch, repaired, alpha, mask: inside, detail: null }
  }
  const finish = meter.done()
  const frames = [...finish.frames].map(([target, check]) => ({ target, check }))
  const patch = { frames, check: finish.whole, regrain: true } as unknown as Patch
  const even = { ...patch, check: { ...finish.whole, stray: null } } as unknown as Patch
  return { ...finish, warnings: finishWarnings(patch), asIfEven: finishWarnings(even) }
}

const kept = normal(23)
const BLOCK = 16

function keepUnevenly({ data }: Seen['picture'], uneven: number): void {
  for (let top = 0; top < H; top += BLOCK)
    for (let left = 0; left < W; left += BLOCK) {
      const share = Math.exp(uneven * kept())
      for (let y = top; y < Math.min(H, top + BLOCK); y++)
        for (let x = left; x < Math.min(W, left + BLOCK); x++)
          for (let c = 0; c < 3; c++) {
            const at = 3 * (y * W + x) + c
            data[at] = lit(x, y) + share * (data[at] - lit(x, y))
          }
    }
}

function expectNear(values: readonly (number | null)[], wanted: number, within: number): void {
  for (const value of values) expect(Math.abs(value! / wanted - 1)).toBeLessThan(within)
}

describe('a patch that has the plate’s grain', () => {
  test.each([
    ['photons on a bright wall, the patch on a dark thing', { level: [0.008, 0.01, 0.016] }],
    ['grain four pixels wide', { blur: 4 }],
    ['grain most of which is carried to the next frame', { carried: 0.8 }],
  ] as const)('is told as the plate is: %s', (_, options) => {
    const { whole, frames, warnings } = finished(options)
    expectNear([...whole.noise!, whole.flicker], 1, 0.05)
    expectNear([whole.seam], 1, 0.1)
    expect(whole.spectrum!).toBeLessThan(1)
    expect(whole.unmeasured).toBeNull()
    expect(warnings).toEqual([])
    expect([...frames.keys()]).toHaveLength(FRAMES)
    expect(frames.get(1001)!.flicker).toBeNull()
    expectNear(frames.get(1001)!.noise!, 1, 0.2)
  })

  test('is told as the plate is while somebody passes in the ring', () => {
    const passes = (x: number, y: number, at: number) => y < 20 && Math.abs(x - 8 * (at - 1000)) < 9
    const { whole, warnings } = finished({ passes })
    expectNear([...whole.noise!, whole.flicker], 1, 0.05)
    expect(warnings).toEqual([])
  })
})

test('beside gravel, where a codec keeps twice the grain, a patch on a smooth path is told as the plate is', () => {
  const isGravel = (x: number, y: number) => x > BOX.x - 4 && !isInside(x, y)
  const light = (x: number, y: number) =>
    isGravel(x, y) ? 0.4 + 0.1 * Math.sin(2 * x) * Math.sin(3 * y) : 0.4
  const { whole, warnings } = finished({ carried: 0.8, light, place: (x, y) => (isGravel(x, y) ? 2 : 1) })
  // The same grain on both would be 1; told by the path's alone it would be half.
  expectNear([...whole.noise!, whole.flicker], 1, 0.1)
  expect(warnings).toEqual([])
})

describe('where a codec keeps now more of the grain and now less, here more and there less', () => {
  test('the plate’s own frames, taken for a patch, are not warned of', () => {
    const { whole, warnings, asIfEven } = finished({ uneven: 0.8 })
    expect(warnings).toEqual([])
    expect(whole.stray!.frame.noise).toBeGreaterThan(0.1)
    expect(asIfEven).not.toEqual([])
  })

  test('what boils by several times as much is', () => {
    const { warnings } = finished({
      uneven: 0.8,
      change: (light, _, random) => light + 5 * LEVEL * Math.sqrt(DARK) * random(),
    })
    expect(warnings[0]).toMatch(/the patch boils or jumps/)
  })

  test('and an even plate strays by next to nothing, so that its limits are as they are', () => {
    const { whole } = finished({})
    expect(Math.max(...Object.values(whole.stray!.frame))).toBeLessThan(0.05)
  })
})

test('grain of twice the strength on frames 1005 to 1007 is said of those', () => {
  const sigma = LEVEL * Math.sqrt(DARK)
  const change = (light: number, at: number, random: () => number) =>
    at >= 1005 && at <= 1007 ? light + Math.sqrt(3) * sigma * random() : light
  const { frames, warnings } = finished({ change })
  // Both changes of 1006 are between frames of twice the strength.
  expectNear(frames.get(1006)!.noise!, 2, 0.1)
  expectNear(frames.get(1003)!.noise!, 1, 0.1)
  expect(warnings).toHaveLength(2)
  expect(warnings[0]).toMatch(
    /^on frames 1005-1007 the patch boils or jumps.* \(flicker [\d.]+ on 100[67], 0.5 to 1.1 is wanted\): /,
  )
  expect(warnings[1]).toMatch(
    /^on frames 1005-1007 the patch has more noise than the plate beside it \(noise /,
  )
})

test('a frame that is lighter inside is a jump, and no noise', () => {
  const sigma = LEVEL * Math.sqrt(DARK)
  const { warnings } = finished({ change: (light, at) => (at >= 1006 ? light + 2 * sigma : light) })
  expect(warnings).toHaveLength(1)
  expect(warnings[0]).toMatch(/^on frame 1006 the patch boils or jumps.*: look at it in check\.html/)
})

test('half of the plate’s grain is said of all frames', () => {
  const { whole, warnings } = finished({ change: (light) => DARK + 0.5 * (light - DARK) })
  expectNear(whole.noise!, 0.5, 0.05)
  // A quarter of the power at each frequency: 6 dB.
  expect(Math.abs(whole.spectrum! - 6.02)).toBeLessThan(0.5)
  expect(warnings.at(-1)).toMatch(/^on frames 1001-1009 the patch has less noise than the plate beside it/)
})

test('a step at the border is told in units of grain, as it was planted', () => {
  const { whole, warnings } = finished({ gain: 1.03 })
  // Of light L the step is 3 per cent, and grain's variance LEVEL^2 L in each of both.
  const mean = 0.12 + 0.3
  const wanted = Math.sqrt(1 + (0.03 * mean) ** 2 / (2 * LEVEL ** 2 * mean))
  expectNear([whole.seam], wanted, 0.05)
  expect(
    warnings.some((w) => /^on frames 1001-1009 the patch differs from the plate at its border/.test(w)),
  ).toBe(true)
})

describe('where nothing tells, that is said, and nothing is warned of', () => {
  test('a plate without grain', () => {
    const { whole, warnings } = finished({
      level: [0, 0, 0],
      change: (light, at) => light + 1e-5 * (at - 1000),
    })
    expect(whole).toMatchObject({ seam: null, flicker: null, noise: null, spectrum: null })
    expect(whole.unmeasured).toMatch(/grain/)
    expect(warnings).toEqual([])
  })

  test('a single frame', () => {
    const { whole, warnings } = finished({ frames: 1 })
    expect(whole).toMatchObject({ flicker: null, noise: null, spectrum: null })
    expect(whole.unmeasured).not.toBeNull()
    expect(warnings).toEqual([])
  })
})
