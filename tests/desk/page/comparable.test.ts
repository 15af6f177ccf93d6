import { describe, expect, test } from 'vitest'
import { comparable } from '../../../src/desk/page/comparable.js'
import type { Row } from '../../../src/desk/page/state.js'

type Known = readonly (number | null | undefined)[]
const row = (target: number, donors: Row['donors'], quality: Known) => [target, { donors, quality }] as const
const OWN: Row['donors'] = [
  [0, 1005],
  [0, 1006],
]

describe('a match matrix', () => {
  test('of the target’s own frames alone has nothing to show, whatever they are worth to each other', () => {
    expect(comparable([row(1005, [[0, 1005]], [null])])).toBe(false)
    expect(comparable([row(1005, OWN, [null, 90]), row(1006, OWN, [90, null])])).toBe(false)
  })

  test('has something while a pair is not known yet, and once another frame could be compared', () => {
    expect(comparable([row(1005, [[0, 1005]], [undefined])])).toBe(true)
    expect(comparable([row(1005, [[0, 1009]], [undefined])])).toBe(true)
    expect(comparable([row(1005, [[0, 1009]], [0])])).toBe(true)
    expect(comparable([row(1005, [[0, 1009]], [null])])).toBe(false)
  })

  test('has it where another plate has a frame of the same number', () => {
    expect(comparable([row(1005, [[1, 1005]], [40])])).toBe(true)
  })
})
