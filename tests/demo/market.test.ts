// Market day: on every frame somebody stands where the shopper is to be hidden. All of it is planted: the scene is rendered
// with and without them, at half the demo's size.
import { beforeAll, expect, test } from 'vitest'
import { momentsOf } from '../../src/demo/account.js'
import { drawMask, SHOPPER_OUTLINE } from '../../src/demo/masks.js'
import { type MarketTruth, marketTruth } from '../../src/demo/scene.js'
import { changedBy, NOBODY } from './nobody.js'

let truth: MarketTruth
let mask: Uint8Array
/** Per frame and pixel, 1 where somebody or their shade changes it. */
let people: Map<number, Uint8Array>

beforeAll(() => {
  truth = marketTruth({ width: 320, height: 180 })
  const { width, height } = truth.plate
  const scene = { ...truth.options, story: truth.story }
  mask = drawMask(SHOPPER_OUTLINE, width, height, momentsOf(truth.hide, scene))
  people = new Map(truth.frames.map(({ frame }) => [frame, changedBy(truth, frame, {}, NOBODY)]))
}, 60_000)

/** Share of the mask that is changed. */
function share(changed: Uint8Array): number {
  let sum = 0
  let all = 0
  for (let i = 0; i < mask.length; i++) {
    if (mask[i] === 0) continue
    all++
    sum += changed[i]
  }
  return sum / all
}

test('on every frame somebody is in the region, and the truth says so', () => {
  expect(truth.hide.empty).toEqual([])
  for (const [frame, changed] of people) expect(share(changed), `frame ${frame}`).toBeGreaterThan(0.08)
})

test('every place of the region is empty on a dozen frames at least', () => {
  for (let i = 0; i < mask.length; i++) {
    if (mask[i] === 0) continue
    let empty = 0
    for (const changed of people.values()) empty += 1 - changed[i]
    expect(empty, `pixel ${i}`).toBeGreaterThanOrEqual(12)
  }
})

test('the mask is white wherever the shopper changes the range, and nobody else comes into it', () => {
  for (let frame = truth.hide.first; frame <= truth.hide.last; frame++) {
    const shopper = changedBy(truth, frame, {}, { shopper: true })
    const others = changedBy(truth, frame, { shopper: true }, NOBODY)
    expect(share(shopper)).toBeGreaterThan(0.08)
    for (let i = 0; i < mask.length; i++) {
      if (shopper[i] === 1) expect(mask[i], `frame ${frame}, pixel ${i}`).toBe(255)
      if (mask[i] > 0) expect(others[i], `frame ${frame}, pixel ${i}`).toBe(0)
    }
  }
})

test('the same holds on a shorter and on a longer plate', () => {
  for (const frames of [32, 96]) expect(marketTruth({ frames }).hide.empty, `${frames} frames`).toEqual([])
})
