import { describe, expect, test } from 'vitest'
import { PairFeatures } from '../../../src/search/hide/pair-features.js'
import type { RegionView, RingPairs } from '../../../src/search/hide/region-view.js'

/** How far the surround next to the mask differs from a target's, per frame; null: too little of it is seen. */
function tells(before: readonly (number | null)[], after: readonly (number | null)[]): boolean {
  const all = [...before, ...after]
  const ringsOf: RegionView['ringsOf'] = (_, frames) => {
    const near = Float64Array.from(frames, (f) => all[f] ?? Number.NaN)
    return { near } as Partial<RingPairs> as RingPairs
  }
  const view = { ringsOf } as Partial<RegionView> as RegionView
  const features = new PairFeatures(view, new Uint8Array(), { x: 0, y: 0, w: 1, h: 1 })
  const places = all.map((_, i) => i)
  return features.tellsSide(-1, {
    before: places.slice(0, before.length),
    after: places.slice(before.length),
  })
}

describe('which of two sides a target shows', () => {
  const NEAR = [0.01, 0.012, 0.011]
  const FAR = [0.03, 0.028, 0.04]

  test('is told by a surround that is much nearer to one of them, whichever it is', () => {
    expect(tells(NEAR, FAR)).toBe(true)
    expect(tells(FAR, NEAR)).toBe(true)
  })

  test('is not told by a surround that is as near to both, nor by one a little nearer', () => {
    expect(tells(FAR, FAR)).toBe(false)
    expect(tells([0.024], FAR)).toBe(false)
  })

  test('is not told by a single frame of the far side that happens to be near', () => {
    expect(tells(FAR, [0.01, ...FAR])).toBe(false)
  })

  test('is told by those frames whose surround is seen, and by nothing where none is on one side', () => {
    expect(tells([null, ...NEAR], [...FAR, null])).toBe(true)
    expect(tells([null], FAR)).toBe(false)
    expect(tells([], FAR)).toBe(false)
  })
})
