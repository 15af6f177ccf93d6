// Planted ratios: the light is known, and so is the coat.
import { describe, expect, test } from 'vitest'
import { middleMean } from '../../../src/match/selection.js'
import { agreeingLight } from '../../../src/search/hide/agreeing-light.js'
import { normal } from '../../synthetic.js'

type Stops = readonly [number, number, number]
const N = 1024

/** Ratios on a ring whose first places, by share, show a coat. */
function ring(light: Stops, { coat = light, share = 0, noise = 0.03, start = 1 } = {}) {
  const grain = normal(start)
  const channel = (c: number) =>
    Float32Array.from({ length: N }, (_, i) => (i < share * N ? coat[c] : light[c]) + noise * grain())
  return [channel(0), channel(1), channel(2)] as const
}

const worst = (found: Stops, light: Stops) => Math.max(...light.map((v, c) => Math.abs(found[c] - v)))
const LIGHTS: Stops[] = [
  [0, 0, 0],
  [0.3, 0.3, 0.3],
  [-0.2, -0.18, -0.22],
]
const COATS: { title: string; of: Stops }[] = [
  { title: 'pink', of: [0.5, -0.2, 0.1] },
  { title: 'green', of: [-0.4, 0.2, -0.3] },
  { title: 'blue', of: [-0.1, -0.05, 0.9] },
]

describe.each(COATS)('a $title coat as bright as the wall', ({ of }) => {
  test.each([0.3, 0.6, 0.75])('over %d of the ring moves no channel by 0.03 stops', (share) => {
    for (const [start, light] of LIGHTS.entries()) {
      const coat = [light[0] + of[0], light[1] + of[1], light[2] + of[2]] as const
      const ratios = ring(light, { coat, share, start })
      expect(worst(agreeingLight([...ratios], N), light)).toBeLessThan(0.03)
    }
  })

  test('over three quarters takes the middle half of all with it: that is what is guarded against', () => {
    const ratios = ring([0, 0, 0], { coat: of, share: 0.75 })
    const middle = ratios.map((ratio) => middleMean(ratio.slice(), N)) as unknown as Stops
    expect(worst(middle, [0, 0, 0])).toBeGreaterThan(0.1)
  })
})

test('white balance that drifts is followed where nobody stands: every pixel says so', () => {
  for (const light of [[0.1, 0, -0.12] as const, [-0.3, 0.05, 0.2] as const]) {
    for (const noise of [0.002, 0.03, 0.1])
      expect(worst(agreeingLight([...ring(light, { noise })], N), light)).toBeLessThan(0.01 + noise / 8)
  }
})

test('of a single place the light is what it shows', () => {
  const one = () => new Float32Array([0.25])
  expect(agreeingLight([one(), one(), one()], 1)).toEqual([0.25, 0.25, 0.25])
})

test('where coarsely coded colour steps to either side of none the light is one of both, not nothing', () => {
  const STEP = 0.25
  const channel = (of: (side: number) => number) =>
    Float32Array.from({ length: N }, (_, i) => of(i % 32 < 16 ? 1 : -1))
  const red = () => channel((side) => -0.125 + side * STEP)
  const plain = () => channel(() => -0.125)
  const [r, g, b] = agreeingLight([red(), plain(), plain()], N)
  expect(Math.abs(r + 0.125)).toBeCloseTo(STEP, 6)
  expect([g, b].map((v) => v + 0.125)).toEqual([expect.closeTo(0, 6), expect.closeTo(0, 6)])
})
