// What a hunt tells before all frames are read. Planted truth: on which frame each shade lies deepest, and how deep.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { borrow } from '../../../src/search/borrow/borrow.js'
import type { SearchEvent } from '../../../src/search/events.js'
import { resultSchema } from '../../../src/search/result.js'
import { keyOf } from '../../../src/shot/frame-key.js'
import { openShot, type Shot } from '../../../src/shot/open-shot.js'
import { heard, of } from '../heard.js'
import { patch, plantShade } from '../shaded.js'
import { expectBestFirst } from '../valid.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-borrow-on-the-way-'))
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 56, y: 40, w: 44, h: 36 }
const MIDDLE = { x: BOX.x + BOX.w / 2, y: BOX.y + BOX.h / 2 }
const FRAMES = 120
/** Of the deep shade, which passes slowly, and of a faint one. */
const [DEEP, FAINT] = [1074, 1036]
const DEPTH = 0.6
const PEAK = 1007
const WANTED = { peak: PEAK, anytime: true }
let shot: Shot

beforeAll(async () => {
  const plate = await plantShade(join(folder, 'heron'), {
    frames: FRAMES,
    shades: [
      patch({ stops: -DEPTH, peak: DEEP - 1001, ...MIDDLE, vx: 4 }),
      patch({ stops: -0.25, peak: FAINT - 1001, ...MIDDLE, vx: 5 }),
    ],
    porter: (i) => (i > 99 && i < 108 ? { x: 20 + 14 * (i - 100), y: 30, w: 26, h: 60 } : null),
    stops: (i) => 0.1 * Math.sin(i / 5),
  })
  shot = await openShot({ target: plate.folder, frames: '1003-1011', box: BOX, reach: 4, surround: 12 })
}, 60_000)

describe('a hunt for light that is ranked while it reads', () => {
  let plain: SearchEvent[]
  let events: SearchEvent[]
  beforeAll(async () => {
    plain = await heard(borrow(shot, { peak: PEAK }))
    events = await heard(borrow(shot, WANTED))
  }, 60_000)

  test('has the result of one that is not, byte for byte', () => {
    const [before, after] = [plain, events].map((all) => JSON.stringify(of(all, 'done')[0].result))
    expect(after).toBe(before)
    expect(of(plain, 'ranking')).toEqual([])
  })

  test('tells of about a tenth, a quarter and half of the frames', () => {
    const rankings = of(events, 'ranking')
    expect(rankings.map((r) => r.total)).toEqual([FRAMES, FRAMES, FRAMES])
    for (const [i, wanted] of [0.1, 0.25, 0.5].entries()) {
      const share = rankings[i].read / FRAMES
      expect(share).toBeGreaterThanOrEqual(wanted)
      expect(share).toBeLessThan(wanted + 0.15)
    }
  })

  test('speaks of frames that were read by then, in candidates that are whole and best first', () => {
    const { result } = of(events, 'done')[0]
    const read = new Set<string>()
    for (const event of events) {
      if (event.kind === 'tracked') read.add(keyOf(event))
      if (event.kind !== 'ranking') continue
      expect(event.read).toBe(read.size)
      expect(event.candidates.length).toBeGreaterThan(0)
      expectBestFirst(event.candidates)
      const asResult = event.candidates.map(({ peakWithin: _, ...candidate }) => candidate)
      expect(resultSchema.safeParse({ ...result, candidates: asResult }).error).toBeUndefined()
      for (const { frames, moment, timeOffset } of event.candidates) {
        expect(timeOffset).toBe(moment!.peak - PEAK)
        expect(read).toContain(keyOf({ plate: 0, frame: moment!.peak }))
        for (const { plate, donor, target } of frames) {
          expect(read).toContain(keyOf({ plate, frame: donor }))
          expect(read).toContain(keyOf({ plate: 0, frame: target }))
        }
      }
    }
  })

  // It crosses the mask's edges with a step, which the wall's texture hides of the faint one: that comes first.
  test('has the deep shade, dark and no thing, and where its peak may lie closes in on where it lies', () => {
    const rankings = of(events, 'ranking')
    const over = (frame: number, { candidates }: (typeof rankings)[number]) =>
      candidates.find(({ moment }) => moment!.start <= frame && moment!.end >= frame)!
    const widths = rankings.map((ranking) => {
      const deep = over(DEEP, ranking)
      expect(deep.moment).toMatchObject({ what: 'light', sign: 'darker' })
      const [from, to] = deep.peakWithin!
      // Two frames about it lie within the plateau: 4 % of a shade that crosses at 4 px a frame.
      expect(from).toBeLessThanOrEqual(DEEP + 1)
      expect(to).toBeGreaterThanOrEqual(DEEP - 1)
      if (from < to) expect(deep.why).toContain(`its peak may lie anywhere on ${from}-${to}`)
      return to - from
    })
    expect(widths[2]).toBeLessThan(widths[0])
    expect(Math.abs(over(DEEP, rankings[2]).moment!.depthStops / DEPTH - 1)).toBeLessThan(0.1)
    expect(over(FAINT, rankings[2]).moment).toMatchObject({ what: 'light', sign: 'darker' })
  })

  test('reads what lies round its first peak before the rest', () => {
    const at = events.findIndex((e) => e.kind === 'ranking')
    const { peak } = of(events, 'ranking')[0].candidates[0].moment!
    const soon = new Set(of(events.slice(0, at), 'tracked').map((e) => e.frame))
    for (const { frame } of of(events.slice(at), 'tracked').slice(0, 36)) soon.add(frame)
    for (const frame of [peak - 2, peak - 1, peak + 1, peak + 2]) expect(soon).toContain(frame)
  })

  test('says nothing against a run for frames that are not read yet', () => {
    for (const { candidates } of of(events, 'ranking'))
      for (const { why, moment } of candidates)
        if (moment!.peak < 1001 + FRAMES - 10) expect(why).not.toContain('leaves the plate')
  })
})

test('a hunt that is called off in the middle of its first ranking ends with the reason, and tells nothing more', async () => {
  const off = new AbortController()
  const reason = new Error('enough')
  const kinds: string[] = []
  const all = async () => {
    for await (const event of borrow(shot, { ...WANTED, signal: off.signal })) {
      kinds.push(event.kind)
      if (event.kind === 'tracked' && event.done >= 12) off.abort(reason)
    }
  }
  await expect(all()).rejects.toBe(reason)
  expect(kinds).not.toContain('done')
  expect(kinds).not.toContain('ranking')
})
