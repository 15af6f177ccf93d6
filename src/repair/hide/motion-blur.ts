// Which frames of a patch meet a plate that is blurred by movement while their donor is not, or the other way round: neither is
// mended by a patch, and both are seen beside it.
import type { Candidate, FrameMatch } from '../../search/result.js'
import { lentGrain } from '../grain/lacking.js'
import type { GrainModel } from '../grain/model.js'
import type { RepairJob } from '../repair.js'
import { compareSharpness, tilePower, tilesAlike } from '../sharpness/compare.js'
import { blurredOneWay } from '../sharpness/one-way.js'
import { pairOver } from './donor-sharpness.js'
import type { HiddenFrame } from './hide-pass.js'
import { lendersOf } from './lent-donors.js'

/** Who is blurred. */
export type MotionBlur = 'plate' | 'donor'

/** @returns null where neither is, or both, or where the surround can't tell */
export function motionBlurOf(
  job: RepairJob,
  candidate: Candidate,
  match: FrameMatch,
  { target: seen, donor: raw, there }: Pick<HiddenFrame, 'target' | 'donor' | 'there'>,
  model: GrainModel,
): MotionBlur | null {
  const { window } = job.region
  const { kept: own } = lentGrain(model, lendersOf(match), undefined, window, candidate.grain)
  const { target, donor, tiles, kept } = pairOver(job, match, seen, { raw, there }, own)
  const same = tilesAlike(target, donor, tiles)
  if (same === null) return null
  const [a, b] = [tilePower(target, same, model), tilePower(donor, same, model)]
  const sharper = compareSharpness(a, b, model, kept)
  const blurred = sharper && blurredOneWay(sharper)
  return blurred === 'target' ? 'plate' : blurred
}
