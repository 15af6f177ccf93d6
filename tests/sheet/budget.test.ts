import { describe, expect, test } from 'vitest'
import { BASE64, PAGE_BYTES, planFrames } from '../../src/sheet/budget.js'
import { CODINGS, type Coding } from '../../src/sheet/encode.js'

const BEST = CODINGS[0]
const LAST = CODINGS[CODINGS.length - 1]
/** Each coding takes a tenth less than the one before it. */
const bytes = (first: number) => (coding: Coding) =>
  first * 0.9 ** CODINGS.indexOf(coding as (typeof CODINGS)[number])

describe('what the page carries', () => {
  test('a small search travels whole at the best coding', () => {
    expect(planFrames(6, 10, PAGE_BYTES, bytes(20_000), bytes(15_000))).toEqual({
      coding: BEST,
      ways: 6,
      step: 1,
    })
  })

  test('a larger one takes the best coding under which all of it fits, and the next better would not', () => {
    const plan = planFrames(24, 24, PAGE_BYTES, bytes(22_000), bytes(16_000))
    expect(plan).toMatchObject({ ways: 24, step: 1 })
    const cost = (coding: Coding) => 24 * (bytes(22_000)(coding) + 24 * bytes(16_000)(coding)) * BASE64
    expect(cost(plan.coding)).toBeLessThan(PAGE_BYTES)
    const better = CODINGS[CODINGS.indexOf(plan.coding as (typeof CODINGS)[number]) - 1]
    expect(cost(better) * 1.1).toBeGreaterThan(PAGE_BYTES)
  })

  test('a long range keeps every frame of the best candidates, and one frame of the others', () => {
    const plan = planFrames(24, 240, PAGE_BYTES, bytes(16_000), bytes(12_000))
    expect(plan).toMatchObject({ coding: LAST, step: 1 })
    expect(plan.ways).toBeGreaterThanOrEqual(3)
    expect(plan.ways).toBeLessThan(24)
  })

  test('a range too long even for one candidate leaves frames out evenly', () => {
    const plan = planFrames(3, 2000, PAGE_BYTES, bytes(16_000), bytes(12_000))
    expect(plan).toMatchObject({ ways: 1, coding: LAST })
    expect(plan.step).toBeGreaterThan(1)
  })

  test('pictures too large for any play leave a single frame per candidate', () => {
    expect(planFrames(3, 20, PAGE_BYTES, bytes(9e6), bytes(9e6))).toEqual({ coding: LAST, ways: 0, step: 1 })
  })
})
