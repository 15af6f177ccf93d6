// What lifting a moment would multiply with, frame by frame, and whether a shadow or a gleam can be that.
import { LIT } from '../match/light-change.js'
import { isAgainstLight, type Sign } from '../match/light-law.js'
import { type Coloured, cellLight } from './cell-light.js'
import type { FrameChange } from './frame-change.js'
import type { Registered } from './register.js'

/**
 * More of the region than this, on any frame, and what changes is no light. Measured: nothing at all of 16 shadows planted
 * on the plaza among its walkers; 10 % and more of bodywork on the road.
 */
const MOST_AGAINST = 0.02

/** The frame on which a lift is furthest from light. */
export interface AgainstLight {
  readonly frame: number
  /** Share of the region. */
  readonly share: number
  /** Least and largest factor of any changed cell and channel there. */
  readonly low: number
  readonly high: number
}

/**
 * @param frames of the moment
 * @param before the quiet state's light per cell and channel
 * @returns null where all that changes can be light
 */
export function againstLight(
  job: Coloured,
  frames: readonly { readonly change: FrameChange; readonly at: Registered }[],
  before: Readonly<Float64Array>,
  sign: Sign,
): AgainstLight | null {
  const { grid } = job.measured
  let worst: AgainstLight | null = null
  for (const { change, at } of frames) {
    const now = cellLight(job, at)
    let [low, high, against] = [1, 1, 0]
    for (let cell = 0; cell < change.kind.length; cell++) {
      if (grid.weight[cell] === 0 || change.kind[cell] !== LIT) continue
      if (isAgainstLight(now, before, 3 * cell, sign)) against += grid.weight[cell]
      for (let c = 3 * cell; c < 3 * cell + 3; c++) {
        if (!(before[c] > 0)) continue
        low = Math.min(low, now[c] / before[c])
        high = Math.max(high, now[c] / before[c])
      }
    }
    const share = against / Math.max(grid.totalWeight, 1e-9)
    if (share > MOST_AGAINST && share > (worst?.share ?? 0)) worst = { frame: at.frame, share, low, high }
  }
  return worst
}
