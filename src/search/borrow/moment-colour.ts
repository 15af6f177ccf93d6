// The colour of a change: a sky-lit shadow is bluer than what it falls on, a reflection takes the colour of its source.
import { LUMINANCE_WEIGHTS } from '../../colour/luminance.js'
import { LIT } from '../../match/light-change.js'
import type { Registered } from '../register.js'
import type { FrameChange } from './frame-change.js'
import { type Coloured, cellLight } from './tile-exposure.js'

/**
 * Change of each channel over the change of luminance, on the changed cells: sums of light over sums of light, so that
 * dark pixels have no more to say than they shine.
 *
 * @param before the quiet state's light per cell and channel
 */
export function changeColour(
  job: Coloured,
  change: FrameChange,
  at: Registered,
  before: Readonly<Float64Array>,
  sign: 'darker' | 'brighter',
): [number, number, number] {
  const { grid, quiet } = job.measured
  const light = cellLight(job, at)
  const now = [0, 0, 0]
  const then = [0, 0, 0]
  for (let cell = 0; cell < change.kind.length; cell++) {
    const down = change.cells.change[cell] - quiet.change[cell] < 0
    if (grid.weight[cell] === 0 || change.kind[cell] !== LIT || down !== (sign === 'darker')) continue
    for (let c = 0; c < 3; c++) {
      now[c] += light[3 * cell + c]
      then[c] += before[3 * cell + c]
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
