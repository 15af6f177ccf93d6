// A change of light that runs on across the mask's edge: what is lifted ends there, and the step shows.
import type { Cut } from '../../search/result.js'
import type { LiftedFrame } from './lighting-pass.js'

export type Side = Cut['side']
export const SIDES: readonly Side[] = ['left', 'right', 'upper', 'lower']

/**
 * A step of more than this is the shadow's, stops. On the quayside a shadow that ends within the mask leaves 0.02 at its edge, one
 * that crosses it 0.12 to 0.59.
 */
const CUT_STOPS = 0.1
/** The step is told from the grain of so many pixels of the edge. */
const RUN_PX = 8

/** The largest change of light on the outermost pixels of the mask, stops without sign, on the sides where it is a step. */
export function cutLight({
  rect: { w, h },
  ratio,
  mask,
}: Pick<LiftedFrame, 'rect' | 'ratio' | 'mask'>): Map<Side, number> {
  const found = new Map<Side, number>()
  const isIn = (i: number) => mask[i] >= 0.5
  const stopsOf = (i: number) =>
    (Math.log2(ratio.data[3 * i]) + Math.log2(ratio.data[3 * i + 1]) + Math.log2(ratio.data[3 * i + 2])) / 3
  const along = {
    left: edgeOf(w, h, 1, (x) => x > 0, -1),
    right: edgeOf(w, h, 1, (x) => x < w - 1, 1),
    upper: edgeOf(h, w, w, (y) => y > 0, -w),
    lower: edgeOf(h, w, w, (y) => y < h - 1, w),
  }
  for (const side of SIDES) {
    const most = mostOverRuns(along[side].map(stopsOf))
    if (most > CUT_STOPS) found.set(side, most)
  }
  return found

  /** The mask's pixels whose neighbour lies beyond it, one line across the side after the other. At the plate's own edge nothing is cut. */
  function edgeOf(
    across: number,
    lines: number,
    step: number,
    hasNext: (k: number) => boolean,
    next: number,
  ): number[] {
    const out: number[] = []
    for (let line = 0; line < lines; line++)
      for (let k = 0; k < across; k++) {
        const i = k * step + line * (step === 1 ? w : 1)
        if (hasNext(k) && isIn(i) && !isIn(i + next)) out.push(i)
      }
    return out
  }
}

/** The largest mean over neighbours on the edge, without sign. */
function mostOverRuns(stops: readonly number[]): number {
  const length = Math.min(RUN_PX, stops.length)
  let sum = 0
  let most = 0
  for (const [i, value] of stops.entries()) {
    sum += value - (i >= length ? stops[i - length] : 0)
    if (i >= length - 1) most = Math.max(most, Math.abs(sum) / length)
  }
  return most
}
