// What is seen of a patch's frame while it is made, and told with it.
import type { Candidate, FrameMatch, StackShare } from '../../search/result.js'
import type { GrainModel } from '../grain/model.js'
import type { RepairJob } from '../repair.js'
import type { HiddenFrame } from './hide-pass.js'
import type { GrainLender } from './lent-grain.js'
import { type MotionBlur, motionBlurOf } from './motion-blur.js'

export interface SeenOfFrame {
  /** Whose finest detail stands for that of the lent pixels; null: their own does. */
  readonly grain: GrainLender | null
  /** Of each that lends, whose finest detail stands for its own; null: their own does. */
  readonly finest: readonly StackShare[] | null
  /** null: nobody is blurred by movement alone, or it can't be told. */
  readonly motionBlur: MotionBlur | null
}

/** @param model grain beside the region; null: it has none that can be told */
export function seenOf(
  job: RepairJob,
  candidate: Candidate,
  match: FrameMatch,
  made: HiddenFrame,
  model: GrainModel | null,
): SeenOfFrame {
  const motionBlur = model === null ? null : motionBlurOf(job, candidate, match, made, model)
  return { grain: made.grain, finest: made.finest, motionBlur }
}
