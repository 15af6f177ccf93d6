// Does the mean of some donors show what the mean of all does? If they lie further apart than grain brings them, what they show moves:
// leaves, a tree's shadow.
import type { StackShare } from '../../search/result.js'
import { awayInCells } from '../grain/change-over.js'
import type { GrainModel } from '../grain/model.js'
import type { RepairJob } from '../repair.js'
import { grainVarianceOver } from './apart.js'
import { lentOf, meanLit } from './lasting-strength.js'

/**
 * How far the mean of some donors lies from the mean of all, mean square over the grain's variance.
 *
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export async function meansApart(
  job: RepairJob,
  grain: GrainModel,
  some: readonly StackShare[],
  all: readonly StackShare[],
  inside: Readonly<Float32Array>,
): Promise<number> {
  const { workspace, region } = job
  const { window } = region
  const [ofSome, ofAll] = [await lentOf(job, some), await lentOf(job, all)]
  return workspace.within((scratch) => {
    const one = meanLit(workspace, scratch, window, some, ofSome)
    const other = meanLit(workspace, scratch, window, all, ofAll)
    const cells = awayInCells(workspace, one, other, inside, window.w)
    const away = cells.reduce((sum, v) => sum + v, 0) / cells.length
    return away / grainVarianceOver(grain, other, inside)
  })
}
