import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { SearchEvent } from '../../src/search/events.js'
import { hide } from '../../src/search/hide/find.js'
import { keyOf } from '../../src/shot/frame-key.js'
import { openShot, type Shot } from '../../src/shot/open-shot.js'
import { plantPlate } from '../synthetic.js'
import { heard, of } from './heard.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-on-the-way-'))
afterAll(() => rmSync(folder, { recursive: true }))

/** Frames of the plate on which a porter stands in the region: the target's and many more. */
const isOccupied = (frame: number) => (frame >= 1030 && frame <= 1034) || frame >= 1060
const BOX = { x: 60, y: 40, w: 40, h: 30 }
let shot: Shot

beforeAll(async () => {
  const porter = { x: 66, y: 44, w: 16, h: 24, light: 0.02 }
  const quay = await plantPlate(join(folder, 'quay'), {
    frames: 80,
    sway: (f) => [Math.sin(f), Math.cos(f)],
    stops: (f) => 0.004 * f,
    occluders: (f) => (isOccupied(1001 + f) ? [{ ...porter, x: porter.x + (f % 7) }] : []),
  })
  const take = await plantPlate(join(folder, 'take-2'), { frames: 40, start: 5, noise: 0.03 })
  shot = await openShot({
    target: quay.folder,
    frames: '1031-1033',
    donors: [take.folder],
    box: BOX,
    reach: 4,
    surround: 12,
  })
})

describe('a search that is ranked while it reads', () => {
  let plain: SearchEvent[]
  let events: SearchEvent[]
  beforeAll(async () => {
    plain = await heard(hide(shot))
    events = await heard(hide(shot, { anytime: true }))
  })

  test('has the result of one that is not, byte for byte', () => {
    const [before, after] = [plain, events].map((all) => JSON.stringify(of(all, 'done')[0].result))
    expect(after).toBe(before)
    expect(of(plain, 'ranking')).toEqual([])
    expect(of(plain, 'matrix')).toEqual([])
  })

  test('tells of about a tenth, a quarter and half of the frames, how many there are, and the matrix when it is whole', () => {
    const rankings = of(events, 'ranking')
    expect(rankings.map((r) => r.total)).toEqual(rankings.map(() => 120))
    const shares = rankings.map((r) => r.read / r.total)
    for (const [i, wanted] of [0.1, 0.25, 0.5].entries()) {
      expect(shares[i]).toBeGreaterThanOrEqual(wanted)
      expect(shares[i]).toBeLessThan(wanted + 0.15)
    }
    expect(of(events, 'matrix').map((m) => m.matrix)).toEqual([of(events, 'done')[0].result.matrix])
  })

  test('knows some pairs of the matrix that there will be, of frames that were read by then, as many as are looked at', () => {
    const { result } = of(events, 'done')[0]
    const whole = result.matrix!
    const read = new Set<string>()
    for (const event of events) {
      if (event.kind === 'tracked') read.add(keyOf(event))
      if (event.kind !== 'ranking') continue
      const { targets, donors, cells } = event.matrix!
      expect(targets).toEqual(whole.targets)
      expect(donors).toEqual(whole.donors.map(({ plate, frame }) => [plate, frame]))
      expect(new Set(cells.map(([t, d]) => `${t} ${d}`)).size).toBe(cells.length)
      expect(cells.length).toBeGreaterThan(targets.length)
      // Four target frames at most, against twenty others and themselves.
      expect(cells.length).toBeLessThanOrEqual(4 * 24)
      for (const [t, d, quality] of cells) {
        expect(read).toContain(keyOf({ plate: 0, frame: targets[t] }))
        expect(read).toContain(keyOf({ plate: donors[d][0], frame: donors[d][1] }))
        if (quality !== null) expect(quality).toBeGreaterThanOrEqual(0)
        if (quality !== null) expect(quality).toBeLessThanOrEqual(100)
      }
      // Planted: on the target's own plate who is free of the porter is more alike than who is not.
      const mean = (some: readonly number[]) => some.reduce((sum, q) => sum + q, 0) / some.length
      const own = cells.flatMap(([, d, quality]) =>
        quality !== null && donors[d][0] === 0 ? [[donors[d][1], quality] as const] : [],
      )
      const [porter, free] = [true, false].map((is) =>
        own.flatMap(([frame, quality]) => (isOccupied(frame) === is ? [quality] : [])),
      )
      if (porter.length > 0) expect(mean(free)).toBeGreaterThan(mean(porter) + 20)
    }
  })

  test('speaks of frames that were read by then, and of nothing else', () => {
    const read = new Set<string>()
    for (const event of events) {
      if (event.kind === 'tracked') read.add(keyOf(event))
      if (event.kind !== 'ranking') continue
      expect(event.read).toBe(read.size)
      expect(event.candidates.length).toBeGreaterThan(0)
      for (const { frames } of event.candidates) {
        for (const { plate, donor, target } of frames) {
          expect(read).toContain(keyOf({ plate, frame: donor }))
          expect(read).toContain(keyOf({ plate: 0, frame: target }))
        }
      }
    }
  })

  // Planted: who stands where, the sway and the light are ours.
  test('names no donor first in which somebody stands, lays it where it belongs and in its light', () => {
    for (const { candidates } of of(events, 'ranking')) {
      const [{ frames, expected, interval }] = candidates
      expect(interval![0]).toBeLessThan(expected!)
      expect(interval![1]).toBeGreaterThan(expected!)
      for (const { plate, donor, target, dx, dy, gain } of frames) {
        const [t, d] = [target - 1001, donor - 1001]
        expect(plate === 0 && isOccupied(donor)).toBe(false)
        if (plate !== 0) continue
        expect(dx).toBeCloseTo(Math.sin(t) - Math.sin(d), 1)
        expect(dy).toBeCloseTo(Math.cos(t) - Math.cos(d), 1)
        expect(gain[1]).toBeCloseTo(2 ** (0.004 * (t - d)), 1)
      }
    }
  })

  test('reads next what lies round its best donor', () => {
    const at = events.findIndex((e) => e.kind === 'ranking')
    const [first] = of(events, 'ranking')
    const { plate, donor } = first.candidates[0].frames[1]
    const before = new Set(of(events.slice(0, at), 'tracked').map(keyOf))
    const soon = new Set(of(events.slice(at), 'tracked').slice(0, 40).map(keyOf))
    for (const frame of [donor - 2, donor - 1, donor + 1, donor + 2]) {
      const name = keyOf({ plate, frame })
      if (shot.plates[plate].frames.includes(frame)) expect(before.has(name) || soon.has(name)).toBe(true)
    }
  })

  test('is called off in the middle of its first ranking with the reason, and tells nothing more', async () => {
    const off = new AbortController()
    const reason = new Error('enough')
    const kinds: string[] = []
    const all = async () => {
      for await (const event of hide(shot, { anytime: true, signal: off.signal })) {
        kinds.push(event.kind)
        if (event.kind === 'tracked' && event.done >= 12) off.abort(reason)
      }
    }
    await expect(all()).rejects.toBe(reason)
    expect(kinds).not.toContain('done')
    expect(kinds).not.toContain('ranking')
  })
})
