// What a plate teaches about itself, on planted truth.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { type Occluder, type PlateOptions, plantPlate } from '../../synthetic.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-known-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 36, y: 24, w: 24, h: 28 }
const PORTER: Occluder = { x: 34, y: 20, w: 28, h: 40, light: 0.6 }
const CRATE: Occluder = { x: 40, y: 34, w: 14, h: 16, light: 0.05 }

async function search(name: string, frames: string, options: PlateOptions): Promise<Result> {
  const plate = await plantPlate(join(folder, name), { width: 96, height: 72, ...options })
  return findDonors({ target: plate.folder, frames, box: BOX, reach: 4, surround: 12, keep: 24 })
}

const donors = (c: Candidate) =>
  c.frames.flatMap((f) => (f.stack ?? [{ frame: f.donor }]).map((s) => s.frame - 1001))

describe('a crate that is put down on frame 18 of 70 and taken away on frame 34, with a porter before it on 24 to 27', () => {
  const there = (i: number) => i >= 18 && i < 34
  let result: Result
  beforeAll(async () => {
    result = await search('crate', '1025-1028', {
      frames: 70,
      occluders: (i) => [...(there(i) ? [CRATE] : []), ...(i >= 24 && i < 28 ? [PORTER] : [])],
    })
  }, 30_000)

  test('the first candidate shows the crate, as most frames do not', () => {
    expect(donors(result.candidates[0]).every(there)).toBe(true)
    expect(result.candidates[0].clean).toBeGreaterThan(0.985)
  })

  test('nothing without it holds up: it is expected to be far from what stands there', () => {
    const without = result.candidates.filter((c) => donors(c).some((i) => !there(i)))
    expect(without.length).toBeGreaterThan(0)
    for (const c of without) {
      expect(c.verdict).not.toBe('holds up')
      expect(c.expected!).toBeLessThan(result.candidates[0].expected! - 6)
    }
  })
})

describe('a tarpaulin that covers the region and all round it from frame 18 of 80 to frame 34, with a porter before it', () => {
  const there = (i: number) => i >= 18 && i < 34
  const TARPAULIN: Occluder = { x: 24, y: 30, w: 48, h: 42, light: 0.3 }
  test('is all there in its own frames, to the last pixel along the edge of the mask', async () => {
    const { candidates } = await search('tarpaulin', '1025-1028', {
      frames: 80,
      occluders: (i) => [...(there(i) ? [TARPAULIN] : []), ...(i >= 24 && i < 28 ? [PORTER] : [])],
    })
    expect(donors(candidates[0]).every(there)).toBe(true)
    expect(candidates[0].clean).toBeGreaterThan(0.998)
  }, 30_000)
})

describe('a crate that stands there from the sixth frame on, and is taken away in the end', () => {
  const there = (i: number) => i >= 6 && i < 60
  test('is the first candidate, and holds up: at the ends of the plate only one side of a frame is seen, and teaches nothing', async () => {
    const { candidates } = await search('early', '1031-1042', {
      frames: 90,
      occluders: (i) => [...(there(i) ? [CRATE] : []), ...(i >= 29 && i < 43 ? [PORTER] : [])],
    })
    expect(donors(candidates[0]).every(there)).toBe(true)
    expect(candidates[0].verdict).toBe('holds up')
  }, 30_000)
})

describe('a crate in whose time a gull sits in the region on every frame, each time elsewhere', () => {
  const there = (i: number) => i >= 24 && i < 60
  const gull = (i: number): Occluder => ({
    x: 37 + ((5 * i) % 19),
    y: 25 + ((7 * i) % 4),
    w: 2,
    h: 2,
    light: 0.7,
  })
  test('still is what the first candidate shows, with no gull: what lies beside the crate may come from another time', async () => {
    const { candidates } = await search('gull', '1041-1044', {
      frames: 90,
      occluders: (i) => [...(there(i) ? [CRATE, gull(i)] : []), ...(i >= 38 && i < 46 ? [PORTER] : [])],
    })
    const [first] = candidates
    expect(first.frames.every(({ donor }) => there(donor - 1001))).toBe(true)
    expect(first.clean).toBeGreaterThan(0.998)
    expect(first.verdict).toBe('holds up')
  }, 30_000)
})

describe('a chalk mark on a fiftieth of the region, on frames 20 to 44 of 70 only', () => {
  const there = (i: number) => i >= 20 && i < 45
  // Light enough to be seen beside the wall, not so much that it makes the region another one.
  const mark = (wall: number): Occluder => ({ x: 44, y: 36, w: 4, h: 4, light: wall })
  test('a donor that has it and one that has not are both clean', async () => {
    const wall = 0.2
    const { candidates } = await search('chalk', '1031-1034', {
      frames: 70,
      wall: () => wall,
      noise: 0.004,
      occluders: (i) => [...(there(i) ? [mark(wall * 1.08)] : []), ...(i >= 30 && i < 34 ? [PORTER] : [])],
    })
    const clean = (with_: boolean) =>
      candidates.filter((c) => donors(c).every((i) => there(i) === with_)).map((c) => c.clean)
    expect(clean(true).length).toBeGreaterThan(0)
    for (const share of [...clean(true), ...clean(false)]) expect(share).toBeGreaterThan(0.995)
  }, 30_000)
})

describe('a crate that is put down while the porter stands before it', () => {
  let result: Result
  beforeAll(async () => {
    result = await search('meanwhile', '1031-1034', {
      frames: 64,
      occluders: (i) => [...(i >= 32 ? [CRATE] : []), ...(i >= 30 && i < 34 ? [PORTER] : [])],
    })
  }, 30_000)

  test('either may be true: what shows the one and what shows the other are both there, and say which they show', () => {
    const kinds = (words: string) => result.candidates.filter((c) => c.why.includes(words))
    expect(kinds('this shows it as it is before 1031').length).toBeGreaterThan(0)
    expect(kinds('this shows it as it is after 1034').length).toBeGreaterThan(0)
    for (const c of kinds('before 1031, ')) expect(donors(c).every((i) => i < 32)).toBe(true)
    for (const c of kinds('as it is before 1031')) expect(donors(c).every((i) => i < 30)).toBe(true)
    for (const c of kinds('as it is after 1034')) expect(donors(c).every((i) => i >= 34)).toBe(true)
  })

  test('so nothing holds up without a look', () => {
    expect(result.candidates.map((c) => c.verdict)).not.toContain('holds up')
  })
})

// The law: the target's own region is never looked at for likeness.
test('whatever stands in the target’s region, the candidates are the same, number by number', async () => {
  const of = (name: string, light: number) =>
    search(name, '1021-1024', {
      frames: 44,
      occluders: (i) => (i >= 20 && i < 24 ? [{ ...BOX, light }] : i > 30 && i < 34 ? [PORTER] : []),
    })
  const [dark, bright] = [await of('dark', 0.02), await of('bright', 0.9)]
  expect(dark.candidates.length).toBeGreaterThan(4)
  expect(bright.candidates).toEqual(dark.candidates)
}, 60_000)

test('a plate with few frames teaches nothing: what other plates taught stands in, with a wider interval', async () => {
  const occluders = (i: number) => (i === 4 ? [PORTER] : [])
  // So much grain that donors differ by what an eye tells: of those that do not nothing can be lost.
  const noise = 0.05
  const short = await search('short', '1005', { frames: 10, noise, occluders })
  const long = await search('long', '1005', { frames: 60, noise, occluders })
  const width = ({ candidates: [{ interval }] }: Result) => interval![1] - interval![0]
  expect(width(short)).toBeGreaterThan(width(long))
  expect(short.candidates[0].shortfall!).toBeGreaterThan(long.candidates[0].shortfall!)
}, 60_000)
