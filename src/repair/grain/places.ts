// Where on a surface a plate has more grain and where less.
import { differencesOver, gatherPlaces, means, pitchOf, placeFactors } from '../../kernels/places.js'
import type { Workspace } from '../../kernels/workspace.js'
import { select } from '../../match/selection.js'
import { GREEN } from './detail-spectrum.js'
import { type Law, MIN_SHARE } from './differences.js'
import { energyOf } from './fit.js'
import type { Pair, Placed } from './laid-frames.js'
import { grainOver } from './model.js'
import { movingPlaces, type SamplesOfPair } from './moving-scenery.js'

/** A frame laid on the middle one, and green over all of its rectangle. */
export interface GreenPlaced extends Placed {
  readonly green: Readonly<Float32Array>
}

/** No place has more than so many times the usual standard deviation. */
const MAX_AT_PLACE = 3
/** At one place it is at most so many times the usual variance: more is somebody who passes. */
const MAX_LOCAL = 16
/** What is usual is told by every third pixel. */
const SOME = 3

/**
 * Where there is more of it and where less, beside what the light tells: a codec keeps it at edges and takes it from smooth
 * places, and where light and dark lie beside each other a tile's mean light tells of neither. A factor of the standard
 * deviation per pixel; 1 where what lies there moves, of which only the light tells.
 *
 * @param far    they tell what moves, too
 * @param detail variance of green's detail of what changes between the pairs, as tiles tell it: half of it, of unit strength
 */
export function placesOf(
  workspace: Workspace,
  {
    near: pairs,
    far,
  }: { readonly near: readonly Pair<GreenPlaced>[]; readonly far: readonly Pair<GreenPlaced>[] },
  law: Law,
  detail: number,
  trusted: Readonly<Float32Array>,
  width: number,
): Float32Array {
  const { length } = trusted
  const pitch = pitchOf(length)
  const out = new Float32Array(length)
  workspace.within((scratch) => {
    const strength = scratch.floats(length)
    const local = scratch.floats(pitch * pairs.length)
    for (let p = 0; p < pairs.length; p++) {
      const a = pairs[p]![0]
      const b = pairs[p]![1]
      const difference = local.subarray(p * pitch, p * pitch + length)
      means(workspace, a.green, b.green, strength)
      grainOver(workspace, law, GREEN, strength)
      differencesOver(workspace, a.green, b.green, strength, difference)
      energyOf(workspace, difference, width)
    }
    const all = scratch.floats(Math.ceil(length / SOME) * pairs.length)
    const count = gatherPlaces(workspace, local, trusted, SOME, MIN_SHARE, all)
    const limit = MAX_LOCAL * (count > 0 ? select(all, count >> 1, count) : 0)
    placeFactors(workspace, local, { limit, unit: 2 * detail, most: MAX_AT_PLACE }, out)
  })
  const moving = movingPlaces({ near: planesOf(pairs), far: planesOf(far) }, width, length / width)
  for (let i = 0; i < length; i++) if (moving[i] === 1) out[i] = 1
  return out
}

function planesOf(pairs: readonly Pair<GreenPlaced>[]): SamplesOfPair[] {
  const samples = ({ green }: GreenPlaced) => ({ data: green, step: 1, first: 0 })
  return pairs.map(([a, b]) => [samples(a), samples(b)])
}
