import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { borrow, findBorrow } from '../../src/search/borrow/borrow.js'
import { progressOf, type SearchEvent } from '../../src/search/events.js'
import { findDonors, hide } from '../../src/search/hide/find.js'
import { openShot, type Shot, type ShotRequest } from '../../src/shot/open-shot.js'
import { plantPlate } from '../synthetic.js'
import { heard, of } from './heard.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-events-'))
afterAll(() => rmSync(folder, { recursive: true }))
const FRAMES = 30
const TARGETS = [1010, 1011, 1012]
let request: ShotRequest
let shot: Shot

beforeAll(async () => {
  // A porter crosses the region on the target frames, and the camera sways.
  const plate = await plantPlate(join(folder, 'quay'), {
    frames: FRAMES,
    noise: 0.01,
    sway: (f) => [Math.sin(f), Math.cos(f)],
    occluders: (f) => (f >= 9 && f <= 12 ? [{ x: 50 + 8 * (f - 9), y: 40, w: 12, h: 30, light: 0.02 }] : []),
  })
  request = {
    target: plate.folder,
    frames: '1010-1012',
    box: { x: 60, y: 40, w: 40, h: 30 },
    reach: 4,
    surround: 12,
  }
  shot = await openShot(request)
})

/** Kinds in the order of their first event. */
const order = (events: readonly SearchEvent[]) => [...new Set(events.map((e) => e.kind))]

describe('a search for donors tells', () => {
  let events: SearchEvent[]
  beforeAll(async () => {
    events = await heard(hide(shot, { keep: 5 }))
  })

  test('its plan, then every frame, every target frame, its ranking, the light and the result', () => {
    expect(order(events)).toEqual(['planned', 'tracked', 'row', 'candidate', 'measured', 'done'])
    expect(of(events, 'planned')).toHaveLength(1)
    expect(events.at(-1)!.kind).toBe('done')
  })

  test('each frame once, with its offset, its noise and how many there are', () => {
    const tracked = of(events, 'tracked')
    const [{ frames, targets }] = of(events, 'planned')
    expect(targets).toEqual(TARGETS)
    expect(tracked.map((t) => t.frame).sort()).toEqual(frames.map((f) => f.frame).sort())
    expect(tracked.map((t) => t.done)).toEqual(frames.map((_, i) => i + 1))
    expect(new Set(tracked.map((t) => t.total))).toEqual(new Set([FRAMES]))
    // A sway of (sin, cos) about the reference frame: the offsets run against it.
    const at = (frame: number) => tracked.find((t) => t.frame === frame)!
    const [a, b] = [at(1003), at(1020)]
    const sway = (f: number) => [Math.sin(f - 1001), Math.cos(f - 1001)]
    expect(a.offset!.dx - b.offset!.dx).toBeCloseTo(sway(1020)[0] - sway(1003)[0], 1)
    expect(a.offset!.dy - b.offset!.dy).toBeCloseTo(sway(1020)[1] - sway(1003)[1], 1)
    expect(a.noise).toBeGreaterThan(0)
  })

  test('a row per target frame that agrees with the candidates made of it', () => {
    const rows = of(events, 'row')
    expect(rows.map((r) => r.target)).toEqual(TARGETS)
    const [{ result }] = of(events, 'done')
    for (const { kind, frames } of result.candidates) {
      if (kind === 'stack') continue
      for (const match of frames) {
        const row = rows.find((r) => r.target === match.target)!
        const column = row.donors.findIndex((d) => d.plate === match.plate && d.frame === match.donor)
        expect(row.ncc[column]).toBeCloseTo(match.ncc!, 4)
        expect(row.seam[column]).toBeCloseTo(match.seam!, 2)
        expect(row.clean[column]).toBeCloseTo(match.clean!, 3)
      }
    }
  })

  test('the ranking in its order, whose light alone is still to be measured', () => {
    const proposed = of(events, 'candidate')
    const [{ result }] = of(events, 'done')
    expect(proposed.map((p) => p.rank)).toEqual([1, 2, 3, 4, 5])
    const withoutGain = (candidates: unknown) =>
      JSON.parse(JSON.stringify(candidates, (key, value) => (key === 'gain' ? undefined : value)))
    expect(withoutGain(proposed.map((p) => p.candidate))).toEqual(withoutGain(result.candidates))
  })

  test('a bar that never runs backwards within a phase', () => {
    let before = { phase: '', done: 0 }
    for (const event of events) {
      const now = progressOf(event)
      if (now === null) continue
      expect(now.done).toBeLessThanOrEqual(now.total)
      if (now.phase === before.phase) expect(now.done).toBe(before.done + 1)
      before = now
    }
  })

  test('the same result as the search in one call, and again on the same open shot', async () => {
    const [{ result }] = of(events, 'done')
    expect(await findDonors({ ...request, keep: 5 })).toEqual(result)
    expect(of(await heard(hide(shot, { keep: 5 })), 'done')[0].result).toEqual(result)
  })
})

test('a hunt for light tells its plan, every frame, its candidates as it finds them and the result', async () => {
  const events = await heard(borrow(shot, { keep: 5 }))
  expect(order(events).filter((kind) => kind !== 'candidate')).toEqual(['planned', 'tracked', 'done'])
  const [{ result }] = of(events, 'done')
  expect(result).toEqual(await findBorrow({ ...request, keep: 5 }))
  const ids = of(events, 'candidate').map((p) => p.candidate.id)
  for (const { id } of result.candidates) expect(ids).toContain(id)
})

describe.each(['planned', 'tracked', 'row', 'candidate', 'measured'] as const)(
  'a search that is called off when it has %s',
  (kind) => {
    test('ends with the reason before it tells anything else of weight', async () => {
      const off = new AbortController()
      const reason = new Error('enough')
      const after: SearchEvent[] = []
      const all = async () => {
        for await (const event of hide(shot, { signal: off.signal })) {
          if (off.signal.aborted) after.push(event)
          if (event.kind === kind) off.abort(reason)
        }
      }
      await expect(all()).rejects.toBe(reason)
      expect(of(after, 'done')).toEqual([])
    })
  },
)

test('who stops listening stops the search', async () => {
  for await (const event of hide(shot)) if (event.kind === 'tracked') break
  // Nothing is left open that a search on the same shot would stumble over.
  expect(of(await heard(hide(shot, { keep: 1 })), 'done')).toHaveLength(1)
})
