// Planted truth: which part of a frame holds picture. The common case is an extraction of 2.39:1 in 16:9.
import { describe, expect, test } from 'vitest'
import { activeArea, profilesOf } from '../../src/footage/active.js'
import { type Frame, frame } from '../../src/raster/frame.js'
import { normal } from '../synthetic.js'

const W = 160
const H = 90
/** (90 - 160 / 2.39) / 2 */
const BAR = 12
const CODE = 1 / 255

/** Code values of a frame, in whole codes of 8 bits. */
function shot(codeAt: (x: number, y: number) => number): Frame {
  const out = frame(H, W, 3)
  for (let y = 0, j = 0; y < H; y++)
    for (let x = 0; x < W; x++) {
      const code = codeAt(x, y)
      for (let c = 0; c < 3; c++, j++) out.data[j] = Math.max(0, Math.round(code)) * CODE
    }
  return out
}

function found(frames: readonly Frame[], { tolerance = CODE, noisyLines = 2 } = {}) {
  const { x, y, w, h } = activeArea(
    frames.map((f) => profilesOf(f, tolerance)),
    { w: W, h: H },
    noisyLines,
  )
  return [x, y, w, h]
}

const LOSSY = { tolerance: 4 * CODE, noisyLines: 16 }
const WHOLE = [0, 0, W, H]
const LETTERBOX = [0, BAR, W, H - 2 * BAR]
const wall = (start: number) => {
  const grain = normal(start)
  return (x: number, y: number) => 90 + 40 * Math.sin(x / 7 + y / 11 + start) + 3 * grain()
}
const inBars = (start: number, bar: number | (() => number) = 0, edge = 1) => {
  const picture = wall(start)
  return shot((x, y) => {
    const depth = Math.min(y, H - 1 - y)
    const black = typeof bar === 'number' ? bar : bar()
    if (depth < BAR) return black
    return depth === BAR ? black + edge * (picture(x, y) - black) : picture(x, y)
  })
}
const several = (one: (i: number) => Frame) => [1, 2, 3, 4, 5].map(one)

describe('bars are found', () => {
  test('that are black', () => expect(found(several((i) => inBars(i)))).toEqual(LETTERBOX))
  test('that are grey', () => expect(found(several((i) => inBars(i, 128)))).toEqual(LETTERBOX))
  test('that fade with the picture', () =>
    expect(found(several((i) => inBars(i, 16 * i)))).toEqual(LETTERBOX))
  test('at the sides', () => {
    const frames = several((i) => shot((x, y) => (x < 20 || x >= W - 20 ? 0 : wall(i)(x, y))))
    expect(found(frames)).toEqual([20, 0, W - 40, H])
  })
  test('all round', () => {
    const frames = several((i) =>
      shot((x, y) => (x < 20 || x >= W - 20 || y < 9 || y >= H - 9 ? 0 : wall(i)(x, y))),
    )
    expect(found(frames)).toEqual([20, 9, W - 40, H - 18])
  })
  test('with the edge that scaling softened', () =>
    expect(found(several((i) => inBars(i, 0, 0.5)))).toEqual([0, BAR + 1, W, H - 2 * BAR - 2]))
  test('with coding noise towards the edge', () => {
    const frames = several((i) => {
      const ringing = normal(100 + i)
      const picture = wall(i)
      return shot((x, y) => {
        const depth = Math.min(y, H - 1 - y)
        return depth < BAR ? (depth < BAR - 4 ? 0 : 3 + 3 * ringing()) : picture(x, y)
      })
    })
    expect(found(frames, LOSSY)).toEqual(LETTERBOX)
  })
  test('beside a frame that is black all over', () =>
    expect(found([shot(() => 0), ...several((i) => inBars(i)), shot(() => 0)])).toEqual(LETTERBOX))
  test('where a file has no data', () => {
    const frames = several((i) => {
      const out = inBars(i)
      for (let j = 0; j < out.data.length; j++) {
        const y = Math.floor(j / 3 / W)
        if (y < BAR || y >= H - BAR) out.data[j] = Number.NaN
      }
      return out
    })
    expect(found(frames)).toEqual(LETTERBOX)
    // A hole within the picture is no border.
    frames[0].data.fill(Number.NaN, 3 * 40 * W, 3 * 41 * W)
    expect(found(frames)).toEqual(LETTERBOX)
  })
})

describe('no bar is', () => {
  const cases: Record<string, readonly Frame[]> = {
    'a wall': several((i) => shot(wall(i))),
    'a fade to black at the head': [shot(() => 0), shot(() => 1), ...several((i) => shot(wall(i)))],
    'black all over': several(() => shot(() => 0)),
    'a flat grey wall with grain at the top': several((i) => {
      const grain = normal(i)
      return shot((x, y) => (y < BAR ? 128 + 1.5 * grain() : wall(i)(x, y)))
    }),
    'a night sky with grain': several((i) => {
      const grain = normal(i)
      return shot((x, y) => (y < 30 ? 4 + 2 * grain() : wall(i)(x, y)))
    }),
    'a night sky that is crushed to black, above roofs': several((i) =>
      shot((x, y) => (y < 20 + 14 * Math.abs(Math.sin(x / 25)) ? 0 : wall(i)(x, y))),
    ),
    'a border that only some frames have': [
      ...several((i) => inBars(i)),
      shot((x, y) => (x === 80 && y === 0 ? 9 : wall(3)(x, y))),
    ],
    'half of the frame': several((i) => shot((x, y) => (y < 45 ? 0 : wall(i)(x, y)))),
  }
  for (const [what, frames] of Object.entries(cases))
    test(what, () => {
      expect(found(frames)).toEqual(WHOLE)
      expect(found(frames, LOSSY)).toEqual(WHOLE)
    })
})
