// By how much a region changes from frame to frame at the targets' time, where that does not go with what changes beside it. The frames
// that show it best are few, and of one time: all on which it is empty are asked, and of these the ones on which the plate beside the
// region changes as it does on the targets.
import { readRect } from '../../footage/plate.js'
import { middleValue } from '../../match/selection.js'
import type { Frame } from '../../raster/frame.js'
import { everyInside } from '../../region/region.js'
import type { Result } from '../../search/result.js'
import { changeOver } from '../grain/change-over.js'
import { alongWith } from '../grain/paced-walk.js'
import type { RepairJob } from '../repair.js'
import { emptyFrames, stands } from './near-noise.js'
import type { PlatePace } from './plate-pace.js'

/** An even share of so many steps from one frame to the next is looked at. */
const MAX_STEPS = 24
/** So many whose pace beside the region is the nearest tell of one. */
const NEAR_STEPS = 5
/** Fewer in all tell nothing. */
const MIN_STEPS = 8
/** Below this share of the greatest change one is as still as another. */
const STILL = 1e-3

/** A step of the plate from one frame to the next, as `changeOver` has it. */
export interface Step {
  readonly beside: number
  readonly there: number
}

/** Frames of the target's plate on which the region is as empty as on the one before. */
export function emptySteps({ matrix, camera, candidates }: Result): readonly number[] {
  if (matrix === undefined || camera !== undefined || !candidates.some(stands)) return []
  const empty = new Set(emptyFrames(matrix).map(({ frame }) => frame))
  const steps = [...empty].filter((frame) => empty.has(frame - 1))
  const every = Math.max(1, steps.length / MAX_STEPS)
  return steps.filter((_, i) => i === 0 || Math.floor(i / every) > Math.floor((i - 1) / every))
}

/** @param frames each against the one before @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export async function stepsOver(job: RepairJob, frames: readonly number[]): Promise<readonly Step[]> {
  const { workspace, region, target, result } = job
  const inside = everyInside(region)
  const { surround } = region.frames.get(result.target.frames[0]!)!
  const steps: Step[] = []
  let last: { readonly frame: number; readonly picture: Frame } | undefined
  for (const frame of frames) {
    // Of two steps in a row the first one's frame is what the second one is looked at against.
    const before = last?.frame === frame - 1 ? last.picture : await readRect(target, frame - 1, region.window)
    const now = await readRect(target, frame, region.window)
    last = { frame, picture: now }
    const beside = changeOver(workspace, now, before, surround, true)
    const there = changeOver(workspace, now, before, inside, false)
    if (beside !== null && there !== null) steps.push({ beside, there })
  }
  return steps
}

/**
 * What is to change in the region from each target to the next, where it does not go with what changes beside it.
 *
 * @param pace  of the plate beside it, of each target
 * @param steps on which the region is empty
 * @returns null where they are too few, or it goes along: then what changes beside the region tells
 */
export function regionPace(pace: PlatePace, steps: readonly Step[]): PlatePace | null {
  if (steps.length < MIN_STEPS) return null
  const of = (side: keyof Step) => steps.map((step) => step[side])
  if (alongWith(of('beside'), of('there'))?.isAlong) return null
  const still = STILL * Math.max(...pace.values(), ...steps.map(({ beside }) => beside))
  const at = (wanted: number) => {
    const away = ({ beside }: Step) => Math.abs(Math.log((beside + still) / (wanted + still)))
    const near = [...steps].sort((a, b) => away(a) - away(b)).slice(0, NEAR_STEPS)
    return middleValue(near.map(({ there }) => there))
  }
  return new Map([...pace].map(([target, wanted]) => [target, at(wanted)]))
}
