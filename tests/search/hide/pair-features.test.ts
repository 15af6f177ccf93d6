import { expect, test } from 'vitest'
import { DIFFERENCES, PairFeatures } from '../../../src/search/hide/pair-features.js'
import type { RegionPicture, RegionView } from '../../../src/search/hide/region-view.js'

/** Chosen truth: how far every frame lies from what the frames round the target agree on, mean square. */
const FROM_LOCAL = 0.04
const LONE = 0

/** A region of which only what `regionsOf` asks for is there: the lone frame is its own blend, and differs by nothing from it. */
function viewOfLone(): RegionView {
  const picture = (samples: Float32Array): RegionPicture => ({ samples, weight: samples })
  const asked = {
    pictureOf: () => picture(new Float32Array(1)),
    paint: (_: 0 | 1, samples: Float32Array) => picture(samples),
    differences: ({ samples }: RegionPicture, frames: Int32Array) =>
      Float64Array.from(frames, (frame) => (samples[0] === 1 || frame !== LONE ? FROM_LOCAL : 0)),
  }
  return asked as unknown as RegionView
}

test('the only frame that is empty is no witness for itself: it is held against what the others agree on', () => {
  const features = new PairFeatures(viewOfLone(), new Uint8Array(2), { x: 0, y: 0, w: 1, h: 1 })
  const around = {
    before: [LONE],
    after: [],
    blended: [{ frame: LONE, share: 1 }],
    blend: new Float32Array(1),
    local: new Float32Array(1).fill(1),
  }
  const own = features.regionsOf(around, Int32Array.of(LONE))
  expect(own.length).toBe(DIFFERENCES - 2)
  for (const difference of own) expect(Math.exp(difference)).toBeCloseTo(Math.sqrt(FROM_LOCAL), 3)
})
