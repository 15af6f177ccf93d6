import { describe, expect, test } from 'vitest'
import { isAgainstLight } from '../../src/match/light-law.js'

// A law: light adds up and is never negative, so that taking one source away lowers every channel and adding one raises
// every channel, whatever its colour. Factors of R, G and B.
const cases: {
  title: string
  sign: 'darker' | 'brighter'
  factors: [number, number, number]
  against: boolean
}[] = [
  { title: 'a neutral shadow', sign: 'darker', factors: [0.5, 0.5, 0.5], against: false },
  { title: 'a shadow lit by the sky is bluer', sign: 'darker', factors: [0.3, 0.4, 0.6], against: false },
  { title: 'the shadow of a red lamp', sign: 'darker', factors: [0.3, 0.95, 1], against: false },
  { title: 'red paint on grey', sign: 'darker', factors: [1.5, 0.4, 0.4], against: true },
  { title: 'a gleam said to be a shadow', sign: 'darker', factors: [1.4, 1.4, 1.4], against: true },
  { title: 'a gleam off copper', sign: 'brighter', factors: [1.9, 1.4, 1.1], against: false },
  { title: 'white paint that is blue', sign: 'brighter', factors: [0.8, 1.2, 2], against: true },
  {
    title: 'black rubber: a twentieth of the light',
    sign: 'darker',
    factors: [0.05, 0.05, 0.05],
    against: true,
  },
  { title: 'chrome', sign: 'brighter', factors: [12, 12, 12], against: true },
  { title: 'grain', sign: 'darker', factors: [1.05, 0.97, 1.04], against: false },
]

describe('what light can do', () => {
  for (const { title, sign, factors, against } of cases) {
    test(`${title} is ${against ? 'no light' : 'light'}`, () => {
      const before = Float64Array.of(9, 9, 9, 2, 3, 4)
      const now = Float64Array.of(0, 0, 0, ...factors.map((f, c) => f * before[3 + c]))
      expect(isAgainstLight(now, before, 3, sign)).toBe(against)
    })
  }

  test('a channel without light says nothing', () => {
    expect(isAgainstLight(Float64Array.of(5, 0.5, 0.5), Float64Array.of(0, 1, 1), 0, 'darker')).toBe(false)
  })
})
