// A region that no frame shows empty all over, but whose every third is empty most of the time. Planted truth.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { repairFrame } from '../../../src/repair/hide/hide-pass.js'
import { nudged } from '../../../src/repair/nudge.js'
import { openRepair, type RepairedFrame } from '../../../src/repair/repair.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { unpackPieces } from '../../../src/search/piece-map.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { misfit } from '../../../src/search/result-misfit.js'
import { srgbOf } from '../../codes.js'
import { type Occluder, type Planted, type PlateOptions, plantPlate } from '../../synthetic.js'
import { expectValid } from '../valid.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-mosaic-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 52, y: 44, w: 54, h: 30 }
const THIRD = BOX.w / 3
const NOISE = 0.01
const FRAMES = 36
/** Target frames, by index: there somebody stands before all of it. */
const WANTED = [16, 17, 18, 19]

/** Which third of the region is covered on a frame, from 0; the target's frames apart. */
const third = (index: number) => Math.floor(index / 5) % 3

/** Somebody before a third of the region, some pixels taller and lighter than the wall, moving with it. */
function before(index: number, [dx, dy]: readonly [number, number]): Occluder[] {
  const shift = { x: Math.round(dx), y: Math.round(dy) }
  const all = { x: BOX.x - 3 + shift.x, y: BOX.y - 4 + shift.y, w: BOX.w + 6, h: BOX.h + 8, light: 0.9 }
  if (WANTED.includes(index)) return [all]
  return [{ ...all, x: BOX.x + THIRD * third(index) + shift.x, w: THIRD }]
}

type Loose = { -readonly [K in keyof Candidate]: Candidate[K] }

interface Searched {
  readonly plate: Planted
  readonly result: Result
  readonly mosaic: Candidate
  readonly made: readonly RepairedFrame[]
}

async function search(name: string, options: PlateOptions = {}): Promise<Searched> {
  const { sway = () => [0, 0] as const } = options
  const plate = await plantPlate(join(folder, name), {
    frames: FRAMES,
    noise: NOISE,
    occluders: (index) => before(index, sway(index)),
    ...options,
  })
  const frames = `${plate.frames[WANTED[0]]}-${plate.frames[WANTED[WANTED.length - 1]]}`
  const result = await findDonors({ target: plate.folder, frames, box: BOX, reach: 8, surround: 16 })
  const mosaic = result.candidates.find((c) => c.kind === 'mosaic')!
  expect(mosaic).toBeDefined()
  const job = await openRepair(result)
  const made: RepairedFrame[] = []
  for (const match of mosaic.frames) made.push(await repairFrame(job, mosaic, match, { addGrain: false }))
  return { plate, result, mosaic, made }
}

/** RMS difference from the wall inside the box, as a share of its light; and its largest 3 x 3 mean. */
function errorOf({ plate }: Searched, made: RepairedFrame, frame: number): { rms: number; worst: number } {
  const truth = plate.clean(frame)
  const off = new Float64Array(BOX.w * BOX.h)
  for (let y = 0, i = 0; y < BOX.h; y++)
    for (let x = 0; x < BOX.w; x++, i++) {
      const here = 3 * ((y + BOX.y - made.rect.y) * made.rect.w + x + BOX.x - made.rect.x) + 1
      const there = 3 * ((y + BOX.y) * 160 + x + BOX.x) + 1
      off[i] = made.repaired.data[here] / truth[there] - 1
    }
  let worst = 0
  for (let y = 1; y + 1 < BOX.h; y++)
    for (let x = 1; x + 1 < BOX.w; x++) {
      let sum = 0
      for (let v = -1; v <= 1; v++) for (let u = -1; u <= 1; u++) sum += off[(y + v) * BOX.w + x + u]
      worst = Math.max(worst, Math.abs(sum / 9))
    }
  return { rms: Math.sqrt(off.reduce((sum, v) => sum + v * v, 0) / off.length), worst }
}

/** Of display luminance inside the box, all frames: what `expected` speaks of. */
function decibelsOf({ plate, mosaic, made }: Searched): number {
  const shown = (rgb: Readonly<Float32Array>, i: number) =>
    srgbOf(0.2126 * rgb[i] + 0.7152 * rgb[i + 1] + 0.0722 * rgb[i + 2])
  let sum = 0
  for (const [k, { repaired, rect }] of made.entries()) {
    const truth = plate.clean(mosaic.frames[k].target)
    for (let y = BOX.y; y < BOX.y + BOX.h; y++)
      for (let x = BOX.x; x < BOX.x + BOX.w; x++) {
        const here = shown(repaired.data, 3 * ((y - rect.y) * rect.w + x - rect.x))
        sum += (here - shown(truth, 3 * (y * 160 + x))) ** 2
      }
  }
  return -10 * Math.log10(sum / (BOX.w * BOX.h * made.length))
}

/** Pieces that lend somewhere inside the box on the middle grid. */
function lendersOf({ mosaic }: Searched): number[] {
  const labels = unpackPieces(mosaic.map!)
  const [left, top, w] = mosaic.map!.box
  const found = new Set<number>()
  for (let y = BOX.y; y < BOX.y + BOX.h; y++)
    for (let x = BOX.x; x < BOX.x + BOX.w; x++) found.add(labels[(y - top) * w + x - left])
  return [...found].map((piece) => mosaic.frames[0].pieces![piece].frame)
}

describe('on a locked-off plate', () => {
  let done: Searched
  beforeAll(async () => {
    done = await search('locked')
  }, 60_000)

  test('the mosaic comes first and holds up where no single donor does', () => {
    const { result, plate } = done
    expectValid(result, [plate.frames])
    expect(result.candidates[0].kind).toBe('mosaic')
    expect(result.candidates[0].verdict).toBe('holds up')
    for (const c of result.candidates) if (c.kind !== 'mosaic') expect(c.verdict).not.toBe('holds up')
  })

  test('it has nobody in it, and its error is the grain', () => {
    for (const [k, made] of done.made.entries()) {
      const { rms, worst } = errorOf(done, made, done.mosaic.frames[k].target)
      expect(rms).toBeLessThan(1.1 * NOISE)
      // Of a thousand means of nine grains none is five sigma out; somebody would be a hundred.
      expect(worst).toBeLessThan((5 * NOISE) / 3)
    }
    expect(done.mosaic.clean).toBe(1)
    expect(done.mosaic.seam).toBeLessThan(1.2)
  })

  test('moved by hand its donors move and its seams stay', async () => {
    const job = await openRepair(done.result)
    const moved = nudged(done.mosaic, { dx: 3, dy: 0 }, job.target)
    const [match] = moved.frames
    expect(match.map).toEqual(done.mosaic.frames[0].map)
    const made = await repairFrame(job, moved, match, { addGrain: false })
    const still = await repairFrame(job, done.mosaic, done.mosaic.frames[0], { addGrain: false })
    // Three pixels further to the right it shows what was there, but for where another donor begins.
    const { w } = made.rect
    let same = 0
    for (let y = 30; y < 50; y++)
      for (let x = 30; x < 70; x++)
        if (made.donor.data[3 * (y * w + x + 3)] === still.donor.data[3 * (y * w + x)]) same++
    expect(same).toBeGreaterThan(0.7 * 20 * 40)
  })

  test('it takes as few donors as that needs, each where it is empty', () => {
    const lenders = lendersOf(done)
    expect(new Set(lenders).size).toBe(2)
    const covered = lenders.map((frame) => third(frame - 1001))
    expect(new Set(covered).size).toBe(2)
  })

  test('it is the same all through the range, so that nothing boils', () => {
    const [first, ...others] = done.mosaic.frames
    for (const f of others) {
      expect(f.map).toEqual(first.map)
      expect(f.pieces!.map((p) => [p.plate, p.frame, p.dx, p.dy])).toEqual(
        first.pieces!.map((p) => [p.plate, p.frame, p.dx, p.dy]),
      )
    }
  })

  test.each<[string, (mosaic: Loose) => void, string]>([
    ['no map', (m) => void delete m.map, 'frames[0] must have pieces and a map'],
    ['a frame without pieces', (m) => void delete m.frames[1].pieces, 'frames[1] must have pieces and a map'],
    ['a piece too many', (m) => m.frames[1].pieces!.push(m.frames[1].pieces![0]), 'pieces must be 2'],
    ['a short row', (m) => (m.map!.rows[3] = '0:4'), 'map.rows[3] must be'],
    ['another kind', (m) => (m.kind = 'hold'), 'must have no pieces and no map, as its candidate is a hold'],
    ['a plate that is none', (m) => (m.frames[0].pieces![1].plate = 9), 'pieces[1].plate must be an index'],
  ])('its entry with %s is refused in one sentence', (_, edit, says) => {
    const result = structuredClone(done.result)
    expect(misfit(result)).toBeNull()
    edit(result.candidates[0])
    expect(misfit(result)).toContain(says)
  })

  test('the numbers of a frame say what its pieces are', () => {
    const { frames, map } = done.mosaic
    const labels = unpackPieces(map!)
    expect(labels).toHaveLength(map!.box[2] * map!.box[3])
    for (const { pieces, donor, clean } of frames) {
      const most = pieces!.reduce((a, b) => (b.weight > a.weight ? b : a))
      expect(donor).toBe(most.frame)
      expect(clean).toBe(1)
    }
  })
})

describe('from a camera that sways, in light that changes', () => {
  const sway = (i: number): readonly [number, number] => [2.4 * Math.sin(i / 3), 1.7 * Math.cos(i / 4)]
  const stops = (i: number) => 0.3 * Math.sin(i / 5)
  let done: Searched
  beforeAll(async () => {
    done = await search('swaying', { sway, stops })
  }, 60_000)

  test('every piece has its own offset and its own light', () => {
    for (const { target, pieces } of done.mosaic.frames)
      for (const { frame, dx, dy, gain } of pieces!) {
        const [tx, ty] = sway(target - 1001)
        const [x, y] = sway(frame - 1001)
        expect(Math.hypot(dx - (tx - x), dy - (ty - y))).toBeLessThan(0.1)
        for (const g of gain)
          expect(Math.abs(Math.log2(g) - (stops(target - 1001) - stops(frame - 1001)))).toBeLessThan(0.02)
      }
  })

  test('the map moves with the camera', () => {
    const { frames } = done.mosaic
    for (const a of frames)
      for (const b of frames) {
        const [ax, ay] = sway(a.target - 1001)
        const [bx, by] = sway(b.target - 1001)
        expect(Math.hypot(a.map!.dx - b.map!.dx - (ax - bx), a.map!.dy - b.map!.dy - (ay - by))).toBeLessThan(
          0.1,
        )
      }
  })

  test('it has nobody in it, and its error is near the grain', () => {
    for (const [k, made] of done.made.entries()) {
      const { rms, worst } = errorOf(done, made, done.mosaic.frames[k].target)
      expect(rms).toBeLessThan(2 * NOISE)
      expect(worst).toBeLessThan(3 * NOISE)
    }
  })
})

test('where a frame is empty all over there is no mosaic', async () => {
  const plate = await plantPlate(join(folder, 'empty'), {
    frames: FRAMES,
    noise: NOISE,
    occluders: (index) => (index < 10 ? [] : before(index, [0, 0])),
  })
  const result = await findDonors({
    target: plate.folder,
    frames: '1017-1020',
    box: BOX,
    reach: 8,
    surround: 16,
  })
  expect(result.candidates.length).toBeGreaterThan(3)
  // Ten frames teach little: that they are empty is known, how near they come is not.
  expect(result.candidates[0].clean).toBeGreaterThan(0.985)
  expect(result.candidates[0].verdict).not.toBe('will not hold')
  expect(result.candidates.map((c) => c.kind)).not.toContain('mosaic')
}, 60_000)

// Planted: each third's donors show the region so many stops brighter or darker than it is on the target.
test('where its pieces differ a mosaic expects to be further off, as it is', async () => {
  const inBox = (x: number, y: number) => x >= BOX.x && x < BOX.x + BOX.w && y >= BOX.y && y < BOX.y + BOX.h
  const lit = (step: number) => (index: number, x: number, y: number) =>
    WANTED.includes(index) || !inBox(x, y) ? 0 : (third(index) - 1) * step
  const [alike, apart] = [await search('alike'), await search('apart', { lit: lit(0.04) })]
  const [better, worse] = [alike, apart].map((done) => decibelsOf(done))
  expect(better - worse).toBeGreaterThan(5)
  const foretold = alike.mosaic.expected! - apart.mosaic.expected!
  expect(Math.abs(foretold - (better - worse))).toBeLessThan(2)
}, 60_000)

test('a donor that has gone is named when the mosaic is made', async () => {
  const { plate, result, mosaic } = await search('gone')
  const job = await openRepair(result)
  const missing = mosaic.frames[0].pieces![1].frame
  rmSync(plate.pathOf(missing))
  await expect(repairFrame(job, mosaic, mosaic.frames[0])).rejects.toThrow(String(missing))
}, 60_000)
