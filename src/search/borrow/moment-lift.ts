// What lifting a moment would multiply with, frame by frame, and whether a shadow or a gleam can be that.
import { LIT } from '../../match/light-change.js'
import { isAgainstLight, type Sign } from '../../match/light-law.js'
import type { Registered } from '../register.js'
import type { FrameChange } from './frame-change.js'
import { type Coloured, tileExposure } from './tile-exposure.js'

/** Less of the region than this, on every frame, is grain, or an edge of somebody. */
const MIN_AGAINST = 0.02
/** So much of what changes while the change is strong, at the mean, and it is no light. */
const NO_LIGHT = 0.1

/** The frame on which a lift is furthest from light. */
export interface AgainstLight {
  readonly frame: number
  /** Share of the region. */
  readonly share: number
  /** Least and largest factor of any changed tile and channel there. */
  readonly low: number
  readonly high: number
  /** All through the moment, not only while somebody passes: it is no light at all. */
  readonly always: boolean
}

/**
 * @param frames of the moment; `strong`: it is near its peak there
 * @param before the quiet state's light per tile and channel
 * @returns null where all that changes can be light
 */
export function againstLight(
  job: Coloured,
  frames: readonly { readonly change: FrameChange; readonly at: Registered; readonly strong: boolean }[],
  before: Readonly<Float64Array>,
  sign: Sign,
): AgainstLight | null {
  const { grid } = job.measured
  let worst: Omit<AgainstLight, 'always'> | null = null
  const shares: number[] = []
  for (const { change, at, strong } of frames) {
    const now = tileExposure(job, at)
    let [low, high, against, lit] = [1, 1, 0, 0]
    for (let tile = 0; tile < change.kind.length; tile++) {
      if (grid.weight[tile] === 0 || change.kind[tile] !== LIT) continue
      lit += grid.weight[tile]
      if (isAgainstLight(now, before, 3 * tile, sign)) against += grid.weight[tile]
      for (let c = 3 * tile; c < 3 * tile + 3; c++) {
        if (!(before[c] > 0)) continue
        low = Math.min(low, now[c] / before[c])
        high = Math.max(high, now[c] / before[c])
      }
    }
    const share = against / Math.max(grid.totalWeight, 1e-9)
    if (strong && lit > 0) shares.push(against / lit)
    if (share > MIN_AGAINST && share > (worst?.share ?? 0)) worst = { frame: at.frame, share, low, high }
  }
  if (worst === null) return null
  const mean = shares.reduce((sum, v) => sum + v, 0) / Math.max(1, shares.length)
  return { ...worst, always: mean > NO_LIGHT }
}
