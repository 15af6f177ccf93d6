// Who may lend and what is known of the footage are two things: narrowing donors takes rows away and changes none. A law.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { hide } from '../../../src/search/hide/find.js'
import type { Result } from '../../../src/search/result.js'
import { keyOf } from '../../../src/shot/frame-key.js'
import { openShot, type ShotRequest } from '../../../src/shot/open-shot.js'
import { plantPlate } from '../../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-lending-'))
afterAll(() => rmSync(folder, { recursive: true }))
const BOX = { x: 38, y: 26, w: 20, h: 20 }

/** `target donor`, with what is known of the pair; and of each hold, frame by frame. */
interface Numbers {
  readonly pairs: ReadonlyMap<string, readonly (number | null)[]>
  readonly held: ReadonlyMap<string, readonly (number | null)[]>
  readonly result: Result
}

async function numbersOf(request: ShotRequest): Promise<Numbers> {
  const pairs = new Map<string, readonly (number | null)[]>()
  const held = new Map<string, readonly (number | null)[]>()
  let result: Result | undefined
  for await (const event of hide(await openShot(request), { keep: 99 })) {
    if (event.kind === 'row') {
      for (const [d, donor] of event.donors.entries())
        pairs.set(`${event.target} ${keyOf(donor)}`, [
          event.ncc[d],
          event.stops[d],
          event.seam[d],
          event.clean[d],
        ])
    }
    if (event.kind === 'done') result = event.result
  }
  for (const { kind, frames } of result!.candidates) {
    if (kind === 'stack') continue
    for (const f of frames)
      held.set(`${f.target} ${f.plate}:${f.donor}`, [f.ncc, f.stops, f.seam, f.clean, f.expected, f.dx, f.dy])
  }
  return { pairs, held, result: result! }
}

let request: ShotRequest
let all: Numbers
beforeAll(async () => {
  const plate = await plantPlate(join(folder, 'quay'), {
    width: 96,
    height: 72,
    frames: 36,
    stops: (i) => 0.1 * Math.sin(i / 5),
    sway: (i) => [0.8 * Math.sin(i), 0.5 * Math.cos(i)],
    // Most of the frames that are left when donors are narrowed have somebody in them.
    occluders: (i) =>
      i % 3 === 0 || i === 10 || i === 11 ? [{ x: 41, y: 28, w: 12, h: 16, light: 0.04 }] : [],
  })
  request = { target: plate.folder, frames: '1011-1012', box: BOX, reach: 4, surround: 12 }
  all = await numbersOf(request)
}, 60_000)

test.each<[string, Partial<ShotRequest>, number[]]>([
  ['a lone donor', { donorFrames: '1015' }, [1015]],
  ['few, some of them with somebody in the region', { donorFrames: '1001-1036:4' }, [1001, 1005, 1033]],
  ['all but what surrounds the target', { notFrames: '1005-1020' }, [1001, 1021, 1036]],
  ['some of a range', { donorFrames: '1020-1030', notFrames: '1022,1024-1028' }, [1020, 1021, 1023, 1030]],
])(
  '%s: no number of a pair changes, nor of a candidate frame',
  async (_, narrowing, some) => {
    const narrowed = await numbersOf({ ...request, ...narrowing })
    expect(narrowed.pairs.size).toBeLessThan(all.pairs.size)
    for (const frame of some) expect(narrowed.pairs.has(`1011 0:${frame}`)).toBe(true)
    for (const [pair, numbers] of narrowed.pairs) expect([pair, numbers]).toEqual([pair, all.pairs.get(pair)])
    let met = 0
    for (const [pair, numbers] of narrowed.held) {
      const before = all.held.get(pair)
      if (before === undefined) continue
      expect([pair, numbers]).toEqual([pair, before])
      met++
    }
    expect(met).toBeGreaterThan(1)
    const lent = new Set(narrowed.result.donors.flatMap((d) => d.asked ?? []))
    for (const { frames } of narrowed.result.candidates)
      for (const f of frames)
        for (const share of f.stack ?? [{ frame: f.donor }]) expect(lent.has(share.frame)).toBe(true)
  },
  60_000,
)
