// Where on a surface a plate has more grain and where less.
import type { Workspace } from '../../kernels/workspace.js'
import { select } from '../../match/selection.js'
import { GREEN } from './detail-spectrum.js'
import { type Law, MIN_SHARE } from './differences.js'
import { energyOf } from './fit.js'
import { finite, type Pair, type Placed } from './laid-frames.js'
import { grainOver } from './model.js'

/** A frame laid on the middle one, and green over all of its rectangle. */
export interface GreenPlaced extends Placed {
  readonly green: Readonly<Float32Array>
}

/** No place has more than so many times the usual standard deviation. */
const MAX_AT_PLACE = 3
/** At one place it is at most so many times the usual variance: more is somebody who passes. */
const MAX_LOCAL = 16

/**
 * Where there is more of it and where less, beside what the light tells: a codec keeps it at edges and takes it from smooth
 * places, and where light and dark lie beside each other a tile's mean light tells of neither. A factor of the standard
 * deviation per pixel.
 *
 * @param detail variance of green's detail of what changes between the pairs, as tiles tell it: half of it, of unit strength
 */
export function placesOf(
  workspace: Workspace,
  pairs: readonly Pair<GreenPlaced>[],
  law: Law,
  detail: number,
  trusted: Readonly<Float32Array>,
  width: number,
): Float32Array {
  const strength = new Float32Array(trusted.length)
  const local = pairs.map(([a, b]) => {
    const difference = new Float32Array(trusted.length)
    for (let i = 0; i < strength.length; i++) strength[i] = (a.green[i]! + b.green[i]!) / 2
    grainOver(workspace, law, GREEN, strength)
    for (let i = 0; i < difference.length; i++) {
      const sigma = strength[i]!
      difference[i] = sigma > 0 ? finite((a.green[i]! - b.green[i]!) / sigma) : 0
    }
    energyOf(workspace, difference, width)
    return difference
  })
  const all = new Float32Array(Math.ceil(trusted.length / 3) * local.length)
  let count = 0
  for (let i = 0; i < trusted.length; i += 3)
    if (trusted[i]! > 0) for (const l of local) if (l[i]! > MIN_SHARE) all[count++] = l[i]!
  const limit = MAX_LOCAL * (count > 0 ? select(all.subarray(0, count), count >> 1) : 0)
  const out = new Float32Array(trusted.length)
  for (let i = 0; i < out.length; i++) {
    let energy = 0
    for (const l of local) energy += Math.min(l[i]!, limit) / local.length
    out[i] = energy > 0 && detail > 0 ? Math.min(MAX_AT_PLACE, Math.sqrt(energy / (2 * detail))) : 0
  }
  return out
}
