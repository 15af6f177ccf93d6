// Planted truth: how bright the whole picture is on each frame, R, G, B.
import { expect, test } from 'vitest'
import { allRound } from '../../../src/search/borrow/all-round.js'
import { normal } from '../../synthetic.js'

const MOMENT = { start: 1041, end: 1059 }
const UNLIT = [1031, 1032, 1033, 1034, 1066, 1067, 1068, 1069]

/** What allRound finds. @param stops how bright the picture is, of each channel */
function found(stops: (frame: number) => readonly [number, number, number]) {
  const exposures = new Map(
    Array.from({ length: 100 }, (_, i) => {
      const own = stops(1001 + i)
      const gain = own.map((v) => 2 ** -v) as [number, number, number]
      return [`0:${1001 + i}`, { stops: -own[1], gain }] as const
    }),
  )
  return allRound({ exposures }, 0, MOMENT, UNLIT)
}

test('light that stands still all round is told as 0', () => {
  expect(found(() => [0.3, 0.3, 0.3])).toEqual({ stops: expect.closeTo(0, 9), flicker: 0 })
})

test('a cloud’s shadow that the picture follows just after the moment’s end is told with its sign', () => {
  const { stops } = found((frame) => (frame > 1060 && frame < 1064 ? [-0.8, -0.8, -0.8] : [0, 0, 0]))
  expect(stops).toBeCloseTo(-0.8, 6)
})

test('a blue lamp is told by its channel', () => {
  const { stops } = found((frame) => (frame > 1044 && frame < 1056 ? [0.05, 0.1, 0.7] : [0, 0, 0]))
  expect(stops).toBeCloseTo(0.7, 6)
})

test('a single frame is no more than flicker, and flicker is as strong as it was planted', () => {
  expect(found((frame) => (frame === 1050 ? [1, 1, 1] : [0, 0, 0])).stops).toBeCloseTo(0, 6)
  const random = normal(3)
  const strays = Array.from({ length: 100 }, () => 0.05 * random())
  const { flicker } = found((frame) => [strays[frame - 1001], strays[frame - 1001], strays[frame - 1001]])
  // The middle one of 66 differences strays by an eighth.
  expect(flicker).toBeGreaterThan(0.05 * 0.7)
  expect(flicker).toBeLessThan(0.05 * 1.3)
})

test('frames that nothing is known of tell nothing', () => {
  expect(allRound({ exposures: new Map() }, 0, MOMENT, UNLIT)).toEqual({ stops: 0, flicker: 0 })
})
