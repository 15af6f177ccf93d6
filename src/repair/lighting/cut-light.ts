// A change of light that runs on across the mask's edge: what is lifted ends there, and the step shows.
import { STEP_STOPS } from '../../match/thresholds.js'
import { edgesOf, runMeans, SIDES, type Side } from '../../search/mask-edges.js'
import type { LiftedFrame } from './lighting-pass.js'

/** The largest change of light on the outermost pixels of the mask, stops without sign, on the sides where it is a step. */
export function cutLight({
  rect: { w, h },
  ratio,
  mask,
}: Pick<LiftedFrame, 'rect' | 'ratio' | 'mask'>): Map<Side, number> {
  const found = new Map<Side, number>()
  const edges = edgesOf(w, h, (i) => mask[i] >= 0.5)
  for (const side of SIDES) {
    const stops = Float64Array.from(edges[side], (i) => stopsAt(ratio.data, 3 * i))
    const most = runMeans(stops).reduce((a, b) => Math.max(a, Math.abs(b)), 0)
    if (most > STEP_STOPS) found.set(side, most)
  }
  return found
}

function stopsAt(ratio: Readonly<Float32Array>, j: number): number {
  return (Math.log2(ratio[j]) + Math.log2(ratio[j + 1]) + Math.log2(ratio[j + 2])) / 3
}
