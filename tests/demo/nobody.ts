// Where people change a frame of the market, found by rendering it with and without them.
import { cleanFrame, type LeftOut, type MarketTruth } from '../../src/demo/scene.js'

export const NOBODY: LeftOut = { shopper: true, passers: true }

/** Per pixel 1 where two renderings of a frame differ by more than a hundredth. */
export function changedBy(truth: MarketTruth, frame: number, one: LeftOut, other: LeftOut): Uint8Array {
  const a = cleanFrame(truth, frame, one).data
  const b = cleanFrame(truth, frame, other).data
  const out = new Uint8Array(a.length / 3)
  for (let i = 0; i < out.length; i++) out[i] = Math.abs(a[3 * i + 1] / b[3 * i + 1] - 1) > 0.01 ? 1 : 0
  return out
}
