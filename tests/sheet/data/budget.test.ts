import { describe, expect, test } from 'vitest'
import { BASE64, PAGE_BYTES, planFrames } from '../../../src/sheet/data/budget.js'
import { CODINGS, type Coding } from '../../../src/sheet/html/encode.js'

type Known = (typeof CODINGS)[number]

const BEST = CODINGS[0]
const LAST = CODINGS[CODINGS.length - 1]
/** Each coding takes a tenth less than the one before it. */
const weigh = (target: number, lent: number) => async (coding: Coding) => {
  const less = 0.9 ** CODINGS.indexOf(coding as Known)
  return { target: target * less, lent: lent * less }
}

/** So many candidates that play so many frames each. */
const each = (candidates: number, frames: number) => Array<number>(candidates).fill(frames)

describe('what the page carries', () => {
  test('a small search travels whole at the best coding', async () => {
    expect(
      await planFrames({ playing: each(6, 10), alone: 0, frames: 10 }, PAGE_BYTES, weigh(20_000, 15_000)),
    ).toEqual({
      coding: BEST,
      ways: 6,
      step: 1,
    })
  })

  test('a larger one takes the best coding under which all of it fits, and the next better would not', async () => {
    const plan = await planFrames(
      { playing: each(24, 24), alone: 0, frames: 24 },
      PAGE_BYTES,
      weigh(22_000, 16_000),
    )
    expect(plan).toMatchObject({ ways: 24, step: 1 })
    const cost = async (coding: Coding) => {
      const { target, lent } = await weigh(22_000, 16_000)(coding)
      return 24 * (target + 24 * lent) * BASE64
    }
    expect(await cost(plan.coding)).toBeLessThan(PAGE_BYTES)
    const better = CODINGS[CODINGS.indexOf(plan.coding as Known) - 1]
    expect((await cost(better)) * 1.1).toBeGreaterThan(PAGE_BYTES)
  })

  test('whoever shows one frame alone leaves the others room for a better coding', async () => {
    const all = await planFrames(
      { playing: each(24, 48), alone: 0, frames: 48 },
      PAGE_BYTES,
      weigh(22_000, 16_000),
    )
    const half = await planFrames(
      { playing: each(12, 48), alone: 12, frames: 48 },
      PAGE_BYTES,
      weigh(22_000, 16_000),
    )
    expect(half).toMatchObject({ ways: 12, step: 1 })
    expect(all.ways).toBeLessThan(24)
  })

  test('who plays a stretch takes room for that alone', async () => {
    const weights = weigh(22_000, 16_000)
    const stretches = { playing: [...each(3, 48), ...each(9, 12)], alone: 0, frames: 48 }
    const plan = await planFrames(stretches, PAGE_BYTES, weights)
    // As many pictures of as many targets.
    const alike = await planFrames(
      { playing: [...each(5, 48), 12], alone: 6, frames: 48 },
      PAGE_BYTES,
      weights,
    )
    expect(plan.ways).toBe(12)
    expect(plan.coding).toEqual(alike.coding)
    const all = await planFrames({ ...stretches, playing: each(12, 48) }, PAGE_BYTES, weights)
    expect(CODINGS.indexOf(all.coding as Known)).toBeGreaterThan(CODINGS.indexOf(plan.coding as Known))
  })

  test('a long range keeps every frame of the best candidates, and one frame of the others', async () => {
    const plan = await planFrames(
      { playing: each(24, 240), alone: 0, frames: 240 },
      PAGE_BYTES,
      weigh(16_000, 12_000),
    )
    expect(plan).toMatchObject({ coding: LAST, step: 1 })
    expect(plan.ways).toBeGreaterThanOrEqual(3)
    expect(plan.ways).toBeLessThan(24)
  })

  test('a range too long even for one candidate leaves frames out evenly', async () => {
    const plan = await planFrames(
      { playing: each(3, 2000), alone: 0, frames: 2000 },
      PAGE_BYTES,
      weigh(16_000, 12_000),
    )
    expect(plan).toMatchObject({ ways: 1, coding: LAST })
    expect(plan.step).toBeGreaterThan(1)
  })

  test('of no candidates is nothing, and nothing is weighed for it', async () => {
    const never = () => Promise.reject(new Error('weighed'))
    expect(await planFrames({ playing: each(0, 10), alone: 0, frames: 10 }, PAGE_BYTES, never)).toEqual({
      coding: BEST,
      ways: 0,
      step: 1,
    })
  })

  test('pictures too large for any play leave a single frame per candidate', async () => {
    expect(
      await planFrames({ playing: each(3, 20), alone: 0, frames: 20 }, PAGE_BYTES, weigh(9e6, 9e6)),
    ).toEqual({
      coding: LAST,
      ways: 0,
      step: 1,
    })
  })
})
