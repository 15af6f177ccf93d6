import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { agreeingGroup } from '../../src/match/agreeing-group.js'
import { cleanShare, explainedSpread, markDirty, weighed } from '../../src/match/clean.js'
import { type AlignedSample, cleanPlateOf } from '../../src/match/clean-plate.js'
import { INVALID, VALID } from '../../src/match/log-luminance.js'
import { EYE_LIMIT_STOPS } from '../../src/match/min-spread.js'
import { normal, random } from '../synthetic.js'

const workspace = new Workspace()

const W = 12
const N = W * 10

/** A wall at -2 stops with 0.02 stops of grain; `passer` stands over the left half where it gives a level. */
function shot(frames: number, passer: (frame: number) => number | null) {
  return Array.from({ length: frames }, (_, f) => {
    const grain = normal(f + 1)
    const level = passer(f)
    const aligned = Float32Array.from({ length: N }, (_, i) => {
      const stands = level !== null && i % W < W / 2
      return (stands ? level : -2) + 0.02 * grain()
    })
    return { aligned, validity: new Uint8Array(N).fill(VALID), exposure: 0 }
  })
}

function expectWall(level: Float32Array) {
  for (const v of level) expect(Math.abs(v + 2)).toBeLessThan(0.03)
}

describe('the clean plate', () => {
  test('is the wall where nobody passes, and its spread is the grain', () => {
    const { level, spread, support } = cleanPlateOf(
      workspace,
      shot(40, () => null),
      N,
    )
    expectWall(level)
    const mean = spread.reduce((a, b) => a + b, 0) / N
    expect(mean).toBeGreaterThan(0.012)
    expect(mean).toBeLessThan(0.024)
    expect(support.reduce((a, b) => a + b, 0) / N).toBeGreaterThan(0.7)
  })

  test('is the wall where different people stand in most of the frames', () => {
    const even = random(3)
    // Six frames in ten have somebody, each in clothes of their own: the median is dirty, the largest group is not.
    const people = Array.from({ length: 60 }, (_, f) => (f % 10 < 6 ? -2.5 - 3 * even() : null))
    expectWall(
      cleanPlateOf(
        workspace,
        shot(60, (f) => people[f]),
        N,
      ).level,
    )
  })

  test('is the wall where one person stands still in four frames of eleven', () => {
    // He agrees with himself as closely as the wall does; the wall has more frames to its name.
    const { level } = cleanPlateOf(
      workspace,
      shot(11, (f) => (f % 3 === 1 ? -5 : null)),
      N,
    )
    for (const v of level) expect(Math.abs(v + 2)).toBeLessThan(0.1)
  })

  test('follows each frame’s light', () => {
    const samples = shot(30, () => null).map((s, f) => {
      const stops = Math.sin(f)
      return { ...s, aligned: s.aligned.map((v) => v - stops), exposure: stops }
    })
    expectWall(cleanPlateOf(workspace, samples, N).level)
  })

  test('does not ask frames that have a hole there, and says where too few are left', () => {
    const samples = shot(20, () => null)
    for (const [f, s] of samples.entries()) {
      s.aligned[5] = Number.NaN
      s.validity[5] = INVALID
      if (f > 0) s.validity[7] = INVALID
    }
    const { level, spread, support } = cleanPlateOf(workspace, samples, N)
    expect(support[5]).toBe(0)
    expect(support[7]).toBe(0)
    for (const values of [level, spread, support]) expect(values.every(Number.isFinite)).toBe(true)
  })

  test('does not depend on the order of the frames', () => {
    const samples = shot(25, (f) => (f % 3 === 0 ? -4 : null))
    const turned = [...samples].reverse()
    expect(cleanPlateOf(workspace, turned, N)).toEqual(cleanPlateOf(workspace, samples, N))
  })
})

describe('a donor’s region', () => {
  const empty = cleanPlateOf(
    workspace,
    shot(40, () => null),
    N,
  )
  const surround = new Float32Array(N).fill(1)
  const spread = explainedSpread(empty, surround, EYE_LIMIT_STOPS)
  const inside = Float32Array.from({ length: N }, (_, i) => (i % W < 6 ? 1 : 0))
  const share = (sample: AlignedSample, light = 0) => {
    const dirty = new Uint8Array(N)
    markDirty(workspace, { ...sample, exposure: light, level: empty.level, spread }, W, dirty)
    return cleanShare(dirty, weighed(inside))!
  }

  test('that is empty is clean under its grain', () => {
    for (const sample of shot(10, () => null)) expect(share(sample)).toBeGreaterThan(0.97)
  })

  test.each([
    { what: 'a coat', level: -5 },
    { what: 'a lamp', level: 1 },
    { what: 'a faint shadow of a fifth of a stop', level: -2.2 },
  ])('in which $what fills it is dirty', ({ level }) => {
    expect(share(shot(1, () => level)[0])).toBeLessThan(0.05)
  })

  test('in other light is clean once the light is matched, dirty before', () => {
    const sample = shot(1, () => null)[0]
    const dark = { ...sample, aligned: sample.aligned.map((v) => v - 0.5) }
    expect(share(dark)).toBe(0)
    expect(share(dark, 0.5)).toBeGreaterThan(0.97)
  })

  test('has holes that count as dirty and spoil no neighbour', () => {
    const sample = shot(1, () => null)[0]
    sample.aligned[2 * W + 2] = Number.NaN
    sample.validity[2 * W + 2] = INVALID
    const dirty = new Uint8Array(N)
    markDirty(workspace, { ...sample, exposure: 0, level: empty.level, spread }, W, dirty)
    expect(dirty[2 * W + 2]).toBe(1)
    expect(dirty.reduce((n, d) => n + d, 0)).toBeLessThan(4)
  })

  test('without pixels has no share', () => {
    expect(cleanShare(new Uint8Array(N), weighed(new Float32Array(N)))).toBeNull()
  })

  test('counts partial mask pixels by their weight', () => {
    const dirty = Uint8Array.of(1, 0)
    expect(cleanShare(dirty, weighed(Float32Array.of(0.25, 0.75)))).toBeCloseTo(0.75, 6)
  })
})

test('a plate whose frames are one and the same picture has a third of the least spread that an eye can see in each pixel', () => {
  const same = Array.from({ length: 5 }, () => shot(1, () => null)[0])
  const spread = explainedSpread(
    cleanPlateOf(workspace, same, N),
    new Float32Array(N).fill(1),
    EYE_LIMIT_STOPS,
  )
  for (const s of spread) expect(s).toBeCloseTo(EYE_LIMIT_STOPS / 3, 6)
})

// Slow twin: every group that begins at a sample, counted one by one.
test('the agreeing group is the one that counting every group finds', () => {
  const rnd = random(7)
  const grain = normal(8)
  for (let round = 0; round < 300; round++) {
    const n = 2 + Math.floor(rnd() * 60)
    const levels = [-2, -2, -1, 0.3]
    const sorted = Float32Array.from({ length: n }, () => {
      const at = levels[Math.floor(rnd() * levels.length)] + 0.1 * grain()
      // Codes repeat each other to the last bit.
      return round % 3 === 0 ? Math.round(at * 20) / 20 : at
    }).sort()
    const least = round % 2 === 0 ? 0 : 0.05
    const bounds = new Int32Array(2)
    agreeingGroup(sorted, bounds, least)
    expect([...bounds]).toEqual(plainGroup(sorted, least))
  }
})

/** 0.3 of the samples, 0.7706 and 3.5 sigma: see `clean-plate.ts`. */
function plainGroup(sorted: Readonly<Float32Array>, least: number): number[] {
  const n = sorted.length
  const size = Math.max(2, Math.ceil(0.3 * n))
  const spans = Array.from({ length: n - size + 1 }, (_, a) => sorted[a + size - 1] - sorted[a])
  const shortest = Math.min(...spans)
  const sigma = Math.max(least, shortest / 0.7706)
  let [from, to] = [spans.indexOf(shortest), spans.indexOf(shortest) + size]
  for (let a = 0; a < n; a++) {
    const reach = sorted.filter((v, b) => b >= a && v - sorted[a] <= 2 * sigma).length
    if (reach > to - from) [from, to] = [a, a + reach]
  }
  const middle = sorted.subarray(from, to).reduce((sum, v) => sum + v, 0) / (to - from)
  while (from > 0 && sorted[from - 1] >= middle - 3.5 * sigma) from--
  while (to < n && sorted[to] <= middle + 3.5 * sigma) to++
  return [from, to]
}
