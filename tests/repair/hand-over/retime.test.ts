// The donors of a patch as an edit has them; every stretch is laid out again and must give the donors back.
import { describe, expect, test } from 'vitest'
import type { PatchFrame } from '../../../src/repair/hand-over/patch.js'
import { retimeOf } from '../../../src/repair/hand-over/retime.js'

function lent(target: number, frame: number, plate = 0): PatchFrame {
  const transform: PatchFrame['lent'][number]['transform'] = [1, 0, 0, 0, 1, 0, 0, 0, 1]
  const share = { plate, frame, timeOffset: frame - target, dx: 0, dy: 0, transform, share: 1 }
  return { target, file: `q.${target}.exr`, lent: [{ ...share, gain: [1, 1, 1] }] }
}
const black = (target: number): PatchFrame => ({ target, file: `q.${target}.exr`, lent: [] })
const range = (first: number, last: number) => Array.from({ length: last - first + 1 }, (_, i) => first + i)
const patchOf = (frames: PatchFrame[], first = frames[0].target, last = frames.at(-1)!.target) =>
  ({ target: { first, last }, frames }) as Parameters<typeof retimeOf>[0]

const cases = [
  {
    title: 'a hold is one stretch that stands',
    frames: range(1001, 1005).map((f) => lent(f, 1200)),
    speeds: [0],
  },
  { title: 'a run is one that plays on', frames: range(1001, 1005).map((f) => lent(f, f + 99)), speeds: [1] },
  {
    title: 'a mirror is one that plays backwards',
    frames: range(1001, 1005).map((f) => lent(f, 2251 - f)),
    speeds: [-1],
  },
  {
    title: 'a relay is one per donor',
    frames: [...range(1001, 1003).map((f) => lent(f, 1200)), ...range(1004, 1006).map((f) => lent(f, 1190))],
    speeds: [0, 0],
  },
  {
    title: 'another plate ends a stretch',
    frames: [lent(1001, 50), lent(1002, 51), lent(1003, 52, 1), lent(1004, 53, 1)],
    speeds: [1, 1],
  },
  {
    title: 'a black mask and a skipped frame are gaps',
    frames: [lent(1001, 1200), black(1002), lent(1004, 1200), lent(1005, 1200)],
    speeds: [1, null, 0],
  },
  { title: 'one frame plays on', frames: [lent(1001, 1200)], speeds: [1] },
]

describe('the retime', () => {
  test.each(cases)('$title', ({ frames, speeds }) => {
    const stretches = retimeOf(patchOf(frames))
    expect(stretches.map((s) => (s.plate === null ? null : s.speed))).toEqual(speeds)
    const laid = stretches.flatMap((s) =>
      range(0, s.frames - 1).map((k) => [
        s.target + k,
        s.plate,
        s.plate === null ? null : s.donor + k * s.speed,
      ]),
    )
    const known = new Map(frames.map((f) => [f.target, f.lent[0]]))
    expect(laid).toEqual(
      range(frames[0].target, frames.at(-1)!.target).map((f) => [
        f,
        known.get(f)?.plate ?? null,
        known.get(f)?.frame ?? null,
      ]),
    )
  })

  test('frames of the range that come before and after those that are filled are gaps', () => {
    const stretches = retimeOf(patchOf([lent(1003, 1200)], 1001, 1004))
    expect(stretches.map((s) => [s.target, s.frames, s.plate])).toEqual([
      [1001, 2, null],
      [1003, 1, 0],
      [1004, 1, null],
    ])
  })
})
