// Candidates that are asked for by name: listed whatever comes of them, and nothing else changes. Planted truth and laws.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { type Result, resultSchema } from '../../../src/search/result.js'
import { csvText } from '../../../src/sheet/data/csv.js'
import type { ShotRequest } from '../../../src/shot/open-shot.js'
import { expectRefusal } from '../../refusal.js'
import { plantPlate } from '../../synthetic.js'
import { expectBestFirst, expectValid } from '../valid.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-asked-'))
afterAll(() => rmSync(folder, { recursive: true }))

const porter = { x: 41, y: 28, w: 12, h: 16, light: 0.04 }
let request: ShotRequest
let frames: readonly number[]
/** All may lend, and 1015 to 1022 alone. */
let all: Result
let narrowed: Result
beforeAll(async () => {
  const plate = await plantPlate(join(folder, 'quay'), {
    width: 96,
    height: 72,
    frames: 26,
    // Further from the first target frame on the last frame than the reach, and from no other.
    sway: (i) => [i === 10 ? 3 : i === 25 ? -3 : 0.4 * Math.sin(i), 0.3 * Math.cos(i)],
    occluders: (i) => ([3, 10, 11].includes(i) ? [porter] : []),
  })
  frames = plate.frames
  request = {
    target: plate.folder,
    frames: '1011-1012',
    box: { x: 38, y: 26, w: 20, h: 20 },
    reach: 4,
    surround: 12,
  }
  all = await findDonors({ ...request, keep: 99 })
  narrowed = await findDonors({ ...request, donorFrames: '1015-1022', keep: 3 })
}, 60_000)

const tried = (...tries: string[]) => findDonors({ ...request, donorFrames: '1015-1022', keep: 3, tries })

describe('what is asked for', () => {
  test('is listed with its verdict though somebody stands in it, is not among those who may lend, and is beyond what is kept', async () => {
    const result = await tried('hold-1004', 'run-9', 'mirror-2020')
    expectValid(result, [frames])
    const asked = result.candidates.filter((c) => c.asked)
    expect(asked.map((c) => c.id).sort()).toEqual(['hold-1004', 'mirror-2020', 'run-9'])
    const hold = asked.find((c) => c.id === 'hold-1004')!
    expect(hold.verdict).toBe('will not hold')
    expect(hold.clean).toBeLessThan(0.7)
    expect(asked.find((c) => c.id === 'run-9')!.frames.map((f) => f.donor)).toEqual([1002, 1003])
    expect(asked.find((c) => c.id === 'run-9')!.timeOffset).toBe(-9)
    expect(asked.find((c) => c.id === 'mirror-2020')!.frames.map((f) => f.donor)).toEqual([1009, 1008])
    // Its light is measured as every other's.
    for (const f of asked.flatMap((c) => c.frames)) expect(f.gain).not.toEqual([1, 1, 1])
  }, 30_000)

  test('changes no other row, nor the picture of the matrix', async () => {
    const result = await tried('hold-1004', 'run-9')
    expect(result.candidates.filter((c) => !c.asked)).toEqual(narrowed.candidates)
    expect(result.matrix).toEqual(narrowed.matrix)
    expect(result.warnings).toEqual(narrowed.warnings)
  }, 30_000)

  test('has the numbers that it has where it may lend', async () => {
    const best = all.candidates.find((c) => c.kind === 'hold' && c.verdict === 'holds up')!
    const others = all.candidates.filter((c) => c.kind === 'run').map((c) => c.id)
    const result = await tried(best.id, ...others)
    for (const id of [best.id, ...others]) {
      const { alternatives: _, ...before } = all.candidates.find((c) => c.id === id)!
      expect(result.candidates.find((c) => c.id === id)).toMatchObject({ ...before, asked: true })
    }
  }, 30_000)

  test('is never folded under another row, and is marked where it is a row already', async () => {
    const row = narrowed.candidates.find((c) => (c.alternatives?.length ?? 0) > 0)!
    const folded = row.alternatives![0]
    const result = await tried(folded.id, row.id, folded.id)
    expect(result.candidates.find((c) => c.id === folded.id)).toMatchObject({
      asked: true,
      score: folded.score,
    })
    const again = result.candidates.find((c) => c.id === row.id)!
    expect(again.asked).toBe(true)
    expect(again.alternatives).toEqual(row.alternatives!.slice(1))
    expect(result.candidates.length).toBe(narrowed.candidates.length + 1)
    expectBestFirst(result.candidates)
  }, 30_000)

  test('is kept by the schema and marked in the CSV', async () => {
    const result = await tried('hold-1004')
    expect(resultSchema.parse(result)).toEqual(result)
    const lines = csvText(result)
      .trimEnd()
      .split('\r\n')
      .map((line) => line.split(','))
    const [id, asked] = ['id', 'asked'].map((name) => lines[0].indexOf(name))
    for (const line of lines.slice(1)) expect(line[asked]).toBe(line[id] === 'hold-1004' ? 'yes' : '')
  }, 30_000)

  test('that can not be laid on the target is told, and the search goes on', async () => {
    const result = await tried('hold-1026')
    expect(result.candidates.map((c) => c.id)).toEqual(narrowed.candidates.map((c) => c.id))
    const told = result.warnings.filter((w) => w.startsWith("hold-1026 was asked for and can't be measured"))
    expect(told).toHaveLength(1)
    expect(told[0]).toMatch(/frame 1026 lies 6\.0, -?0\.\d px from 1011, beyond the reach/)
  }, 30_000)
})

test.each([
  ['a stack, which names no frames', 'stack-1', 'MISUSE', ['hold-1215, run+46 or mirror-2251', '"stack-1"']],
  ['a frame alone', '1215', 'MISUSE', ['hold-1215', '"1215"']],
  ['a plate that is not there', 'hold-1005.p2', 'MISUSE', ['"hold-1005.p2"']],
  ['a frame past the end', 'hold-1027', 'FRAMES_OUTSIDE', ['frame 1027 of quay', 'which has 1001-1026']],
  ['a run past the end', 'run+15', 'FRAMES_OUTSIDE', ['run+15', 'frame 1027 of quay']],
  ['a run before the start', 'run-11', 'FRAMES_OUTSIDE', ['frame 1000 of quay']],
  ['a target frame', 'hold-1012', 'FRAMES_OUTSIDE', ['would lend frame 1012 to itself']],
  ['a mirror about a target frame', 'mirror-2022', 'FRAMES_OUTSIDE', ['would lend frame 1011 to itself']],
])('%s is refused before a frame is read', async (_, id, code, says) => {
  await expectRefusal(() => tried(id), { code, exitCode: 2, says: ['`tries`', ...says] })
})

test('a frame of another plate is named with its place among the plates', async () => {
  const other = await plantPlate(join(folder, 'take-two'), { width: 96, height: 72, frames: 3 })
  const result = await findDonors({ ...request, donors: [other.folder], keep: 1, tries: ['hold-1002.p2'] })
  const asked = result.candidates.find((c) => c.asked)!
  expect(asked).toMatchObject({ id: 'hold-1002.p2', donor: 1 })
  expect(asked.frames.every((f) => f.plate === 1 && f.donor === 1002)).toBe(true)
}, 30_000)
