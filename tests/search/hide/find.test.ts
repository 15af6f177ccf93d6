import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Progress } from '../../../src/progress.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { type Candidate, type Result, resultSchema } from '../../../src/search/result.js'
import { boxOf, type Occluder, type Planted, plantMask, plantPlate } from '../../synthetic.js'
import { expectValid } from '../valid.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-find-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 60, y: 30, w: 30, h: 50 }
const porter = (x: number): Occluder => ({ x, y: 34, w: 22, h: 44, light: 0.04 })
const stands = (o: Occluder, box = BOX) =>
  o.x < box.x + box.w && o.x + o.w > box.x && o.y < box.y + box.h && o.y + o.h > box.y

describe('a porter crosses a wall before a swaying camera in changing light', () => {
  let plate: Planted
  let result: Result
  const walk = (i: number) => [porter(7 * i - 24)]
  beforeAll(async () => {
    plate = await plantPlate(join(folder, 'sway'), {
      frames: 28,
      sway: (i) => [1.9 * Math.sin(i * 0.9), 1.3 * Math.cos(i * 1.7)],
      stops: (i) => 0.2 * Math.sin(i / 4),
      occluders: walk,
    })
    result = await findDonors({ target: plate.folder, frames: '1013-1017', box: BOX, reach: 8, keep: 40 })
  }, 30_000)

  const truly = (c: Candidate) => c.frames.every((f) => !walk(f.donor - 1001).some((o) => stands(o)))

  test('the result is valid', () => expectValid(result, [plate.frames]))

  test('the best candidate is empty where the region is, and every empty one comes before every other', () => {
    const empty = result.candidates.map(truly)
    expect(empty[0]).toBe(true)
    expect(empty).toContain(false)
    expect(empty.lastIndexOf(true)).toBeLessThan(empty.indexOf(false))
  })

  test('2D offsets are found to 0.05 px and stops to 0.01, with the signs of the design', () => {
    let met = 0
    for (const c of result.candidates) {
      if (!truly(c) || c.kind === 'stack') continue
      for (const f of c.frames) {
        const [tx, ty] = plate.sway(f.target)
        const [dx, dy] = plate.sway(f.donor)
        expect(Math.abs(f.dx - (tx - dx))).toBeLessThan(0.05)
        expect(Math.abs(f.dy - (ty - dy))).toBeLessThan(0.05)
        expect(Math.abs(f.stops! - (plate.stops(f.target) - plate.stops(f.donor)))).toBeLessThan(0.01)
        for (const g of f.gain) expect(Math.abs(Math.log2(g) - f.stops!)).toBeLessThan(0.02)
        met++
      }
    }
    expect(met).toBeGreaterThan(10)
  })

  test('every empty donor that is held is expected to be likelier than every other, each within its own interval', () => {
    const held = result.candidates.filter((c) => c.kind === 'hold')
    const [empty, others] = [held.filter(truly), held.filter((c) => !truly(c))].map((cs) =>
      cs.map((c) => c.expected!),
    )
    expect(empty.length).toBeGreaterThan(1)
    for (const other of others) expect(Math.min(...empty)).toBeGreaterThan(other)
    for (const c of held) {
      expect(c.interval![0]).toBeLessThanOrEqual(c.expected!)
      expect(c.interval![1]).toBeGreaterThanOrEqual(c.expected!)
    }
  })

  test('there are holds, runs and mirrors to choose from', () => {
    const kinds = new Set(result.candidates.map((c) => c.kind))
    for (const kind of ['hold', 'run', 'mirror'] as const) expect(kinds).toContain(kind)
  })

  test('a candidate with the porter in the region will not hold, and the reason says so', () => {
    const dirty = result.candidates.filter((c) => !truly(c) && c.clean! < 0.8)
    expect(dirty.length).toBeGreaterThan(0)
    for (const c of dirty) {
      expect(c.verdict).toBe('will not hold')
      expect(c.why).toContain('not empty')
    }
  })

  test('searching again gives the same candidates to the last digit; fewer kept are the first of the many', async () => {
    const again = await findDonors({
      target: join(plate.folder, 'quay.####.png'),
      frames: [1017, 1013, 1014, 1016, 1015, 1013],
      box: BOX,
      reach: 8,
      keep: 3,
    })
    expect(again.candidates).toEqual(result.candidates.slice(0, 3))
  }, 20_000)

  test('progress only goes forward and ends complete in each phase', async () => {
    const seen = new Map<string, Progress[]>()
    const onProgress = (p: Progress) => seen.set(p.phase, [...(seen.get(p.phase) ?? []), p])
    await findDonors({ target: plate.folder, frames: '1013', box: BOX, reach: 4, onProgress })
    expect([...seen.keys()]).toContain('reading')
    expect([...seen.keys()]).toContain('matching')
    for (const reports of seen.values()) {
      const done = reports.map((r) => r.done)
      expect(done).toEqual([...done].sort((a, b) => a - b))
      expect(reports.at(-1)!.done).toBe(reports.at(-1)!.total)
    }
  }, 20_000)

  test('a search that is called off stops with the reason', async () => {
    const stop = new AbortController()
    const reason = new Error('called off')
    const onProgress = (p: Progress) => p.done === 3 && stop.abort(reason)
    const { signal } = stop
    await expect(
      findDonors({ target: plate.folder, frames: '1013', box: BOX, onProgress, signal }),
    ).rejects.toBe(reason)
  })
})

describe('a locked-off plate', () => {
  const SMALL = { width: 96, height: 72 }
  const box = { x: 38, y: 26, w: 20, h: 20 }

  test('a donor with something in the region never outranks an otherwise equal empty one', async () => {
    let n = 0
    await fc.assert(
      fc.asyncProperty(
        fc.record({
          dirty: fc.uniqueArray(fc.integer({ min: 1, max: 11 }), { minLength: 2, maxLength: 4 }),
          x: fc.integer({ min: 38, max: 50 }),
          y: fc.integer({ min: 26, max: 38 }),
          side: fc.integer({ min: 7, max: 20 }),
          light: fc.constantFrom(0.02, 0.7),
        }),
        async ({ dirty, x, y, side, light }) => {
          const plate = await plantPlate(join(folder, `lock${n++}`), {
            ...SMALL,
            frames: 12,
            occluders: (i) => {
              // The target has something to hide: of a wall alone, what differs from it would be taken for empty.
              if (i === 0) return [{ ...box, light: 0.3 }]
              return dirty.includes(i) ? [{ x: x + (i % 3), y, w: side, h: side, light }] : []
            },
          })
          const result = await findDonors({
            target: plate.folder,
            frames: '1001',
            box,
            reach: 4,
            surround: 12,
            keep: 40,
          })
          expectValid(result, [plate.frames])
          const isDirty = (f: Candidate['frames'][number]) =>
            (f.stack ?? [{ frame: f.donor }]).some((s) => dirty.includes(s.frame - 1001))
          const ranks = result.candidates.map((c) => c.frames.some(isDirty))
          expect(ranks[0]).toBe(false)
          if (ranks.includes(true)) expect(ranks.lastIndexOf(false)).toBeLessThan(ranks.indexOf(true))
        },
      ),
      { seed: 13, numRuns: 8, endOnFailure: true },
    )
  }, 60_000)

  test('half a stop more light in the whole donor plate moves stops by half and nothing else', async () => {
    const make = (name: string, stops: number) =>
      plantPlate(join(folder, name), { ...SMALL, frames: 8, stops: () => stops, start: 5 })
    const target = await plantPlate(join(folder, 'own'), { ...SMALL, frames: 2, start: 9 })
    const donors = [await make('same', 0), await make('dark', -0.5)]
    const found = await Promise.all(
      donors.map((d) =>
        findDonors({
          target: target.folder,
          donors: [d.folder],
          donorFrames: [1001, 1002, 1003, 1004, 1005, 1006, 1007, 1008],
          frames: '1001',
          box,
          reach: 4,
          surround: 12,
          keep: 40,
        }),
      ),
    )
    const [same, dark] = found.map((r) => {
      expectValid(r, [target.frames, donors[0].frames])
      return r.candidates.filter((c) => c.kind === 'hold' && c.donor === 1)
    })
    expect(same.length).toBeGreaterThan(0)
    for (const s of same) {
      const d = dark.find((c) => c.id === s.id)
      if (d === undefined) continue
      expect(Math.abs(d.stops! - s.stops! - 0.5)).toBeLessThan(0.01)
      expect(Math.abs(d.ncc! - s.ncc!)).toBeLessThan(0.002)
    }
    expect(Math.abs(dark[0].stops! - 0.5)).toBeLessThan(0.01)
  }, 20_000)

  test('donor plates in another order give the same candidates under their new numbers', async () => {
    const target = await plantPlate(join(folder, 'perm-own'), { ...SMALL, frames: 6 })
    const takes = await Promise.all(
      [1, 2].map((k) =>
        plantPlate(join(folder, `perm-${k}`), {
          ...SMALL,
          frames: 6,
          first: 1,
          start: 100 * k,
          stops: () => 0.1 * k,
          sway: (i) => [0.6 * k * Math.sin(i), 0.4 * k * Math.cos(2 * i)],
        }),
      ),
    )
    const find = (order: readonly number[]) =>
      findDonors({
        target: target.folder,
        donors: order.map((k) => takes[k].folder),
        frames: '1002-1003',
        box,
        reach: 4,
        surround: 12,
        keep: 60,
      })
    const [one, other] = [await find([0, 1]), await find([1, 0])]
    const plain = (r: Result, plates: readonly number[]) =>
      new Map(
        r.candidates
          .filter((c) => c.kind === 'hold' || c.kind === 'run')
          .map((c) => [`${c.kind} ${plates[c.donor]} ${c.frames[0].donor}`, c]),
      )
    const a = plain(one, [0, 1, 2])
    const b = plain(other, [0, 2, 1])
    let met = 0
    for (const [key, c] of a) {
      const d = b.get(key)
      if (d === undefined) continue
      met++
      expect(Math.abs(d.frames[0].dx - c.frames[0].dx)).toBeLessThan(0.02)
      expect(Math.abs(d.stops! - c.stops!)).toBeLessThan(0.002)
      expect(Math.abs(d.ncc! - c.ncc!)).toBeLessThan(0.002)
      expect(Math.abs(d.score - c.score)).toBeLessThan(1)
    }
    expect(met).toBeGreaterThan(2)
    expect(other.donors.map((d) => d.plate)).toEqual([0, 2, 1].map((i) => one.donors[i].plate))
  }, 20_000)

  test('the same footage numbered from 1 gives the same candidates under their new numbers', async () => {
    const make = (first: number) =>
      plantPlate(join(folder, `from-${first}`), {
        ...SMALL,
        frames: 10,
        first,
        stops: (i) => 0.1 * Math.sin(i),
        noise: 0,
      })
    const [a, b] = [await make(1001), await make(0)]
    const find = (p: Planted, frames: string) =>
      findDonors({ target: p.folder, frames, box, reach: 4, surround: 12, keep: 40 })
    const [high, low] = [await find(a, '1003-1005'), await find(b, '2-4')]
    expectValid(low, [b.frames])
    expect(low.candidates.map((c) => [c.kind, c.frames.map((f) => f.donor + 1001), c.score])).toEqual(
      high.candidates.map((c) => [c.kind, c.frames.map((f) => f.donor), c.score]),
    )
    expect(low.matrix!.donors.map((d) => d.frame)).toContain(0)
  }, 20_000)

  test('a run is dropped, not wrapped, where its donors would cross a gap or the plate’s end', async () => {
    const plate = await plantPlate(join(folder, 'gap'), {
      ...SMALL,
      frames: 20,
      gaps: [1010, 1011],
      stops: (i) => 0.02 * i,
    })
    const result = await findDonors({
      target: plate.folder,
      frames: '1003-1006',
      box,
      reach: 4,
      surround: 12,
      keep: 60,
    })
    expectValid(result, [plate.frames])
    const runs = result.candidates.filter((c) => c.kind === 'run' || c.kind === 'mirror')
    expect(runs.length).toBeGreaterThan(0)
    for (const c of runs) expect(c.frames).toHaveLength(4)
  }, 20_000)

  test('a frame whose mask is black is passed over by name, and the rest is as if it had not been asked for', async () => {
    const plate = await plantPlate(join(folder, 'black'), { ...SMALL, frames: 12 })
    const masks = join(folder, 'black-masks')
    mkdirSync(masks)
    const { x, y, w, h } = box
    for (const f of [1003, 1004, 1005])
      await plantMask(
        join(masks, `m.${f}.png`),
        f === 1004 ? () => 0 : boxOf(x, y, w, h),
        SMALL.width,
        SMALL.height,
      )
    const asked = { target: plate.folder, mask: masks, reach: 4, surround: 12 }
    const result = await findDonors({ ...asked, frames: '1003-1005' })
    expectValid(result, [plate.frames])
    expect(result.target.frames).toEqual([1003, 1005])
    expect(result.region.empty).toEqual([1004])
    expect(result.warnings.join()).toContain('black on frame 1004')
    const without = await findDonors({ ...asked, frames: '1003,1005' })
    expect(result.candidates).toEqual(without.candidates)
  }, 20_000)

  test('only donor frames that were asked for lend', async () => {
    const plate = await plantPlate(join(folder, 'asked'), { ...SMALL, frames: 16 })
    const result = await findDonors({
      target: plate.folder,
      frames: '1001-1002',
      donorFrames: '1010-1014',
      box,
      reach: 4,
      surround: 12,
    })
    const used = new Set(
      result.candidates.flatMap((c) => c.frames.flatMap((f) => f.stack?.map((s) => s.frame) ?? f.donor)),
    )
    for (const f of used) expect(f >= 1010 && f <= 1014).toBe(true)
    expect(used.size).toBeGreaterThan(0)
    expect(result.donors).toMatchObject([{ frames: 16, asked: [1010, 1011, 1012, 1013, 1014] }])
    expect(resultSchema.parse(result)).toEqual(result)
  }, 20_000)
})
