// The colour of a change: a sky-lit shadow is bluer than what it falls on, a reflection takes the colour of its source.
import { LUMINANCE_WEIGHTS } from '../../colour/luminance.js'
import { LIT } from '../../match/light-change.js'
import type { Registered } from '../register.js'
import type { FrameChange } from './frame-change.js'
import { type Coloured, tileExposure } from './tile-exposure.js'

/**
 * Change of each channel over the change of luminance, on the changed tiles: sums of light over sums of light, so that
 * dark pixels have no more to say than they shine.
 *
 * @param before the quiet state's light per tile and channel
 */
export function changeColour(
  job: Coloured,
  change: FrameChange,
  at: Registered,
  before: Readonly<Float64Array>,
  sign: 'darker' | 'brighter',
): [number, number, number] {
  const { grid, quiet } = job.measured
  const light = tileExposure(job, at)
  const now = [0, 0, 0]
  const then = [0, 0, 0]
  for (let tile = 0; tile < change.kind.length; tile++) {
    const down = change.tiles.change[tile] - quiet.change[tile] < 0
    if (grid.weight[tile] === 0 || change.kind[tile] !== LIT || down !== (sign === 'darker')) continue
    for (let c = 0; c < 3; c++) {
      now[c] += light[3 * tile + c]
      then[c] += before[3 * tile + c]
    }
  }
  const luminance = (v: readonly number[]) => LUMINANCE_WEIGHTS.reduce((sum, w, c) => sum + w * v[c], 0)
  const whole = luminance(now) / luminance(then)
  const factor = (c: number) => {
    const value = now[c] / then[c] / whole
    return Number.isFinite(value) ? Number(value.toFixed(4)) : 1
  }
  return [factor(0), factor(1), factor(2)]
}
