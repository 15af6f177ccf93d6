// By how much a plate that stands changes beside the region from each target frame to the next: what a patch's grain is to change with.
import { OffcutError } from '../../errors.js'
import type { Frame } from '../../raster/frame.js'
import type { Candidate } from '../../search/result.js'
import { calmChanges, changesInCells } from '../grain/change-over.js'
import type { RepairJob } from '../repair.js'
import { stands } from './near-noise.js'
import { seenTarget } from './seen-target.js'

/**
 * Noise that stands still in between is seen, too. On the road 3 kept all that changes of four mosaics and three relays as it was but
 * made them up to 0.04 noisier, 1 took up to 0.27 of it from mosaics.
 */
const MAX_MORE = 1.5

/** Of a target frame what changes to it from the one before, as `changeOver` has it; of those without one it is not known. */
export type PlatePace = ReadonlyMap<number, number>

/**
 * @returns null where the camera moves or sways, so that texture is on its way, or no two frames follow each other
 * @throws FRAME_MISSING from the footage
 */
export async function paceOf(job: RepairJob): Promise<PlatePace | null> {
  const { result, region, workspace } = job
  if (result.camera !== undefined || !result.candidates.some(stands)) return null
  const targets = [...region.frames.keys()].filter((t) => region.frames.has(t - 1)).sort((a, b) => a - b)
  const cells: number[][] = []
  for (const target of targets) {
    const [before, seen] = [await readable(job, target - 1), await readable(job, target)]
    const { surround } = region.frames.get(target)!
    cells.push(before && seen ? changesInCells(workspace, seen, before, surround) : [])
  }
  const changes = calmChanges(cells)
  const pace = new Map(targets.flatMap((target, i) => (changes[i] === null ? [] : [[target, changes[i]!]])))
  return usualPace(pace) > 0 ? pace : null
}

/** Null of a target frame that can't be read: the search has left it out and named it, and no candidate fills it. */
async function readable(job: RepairJob, target: number): Promise<Frame | null> {
  try {
    return await seenTarget(job, target)
  } catch (cause) {
    if (cause instanceof OffcutError && cause.code === 'FRAME_UNREADABLE') return null
    throw cause
  }
}

/** Mean of all; 0 where a codec repeats all that there is. */
export function usualPace(pace: PlatePace): number {
  const all = [...pace.values()]
  return all.reduce((sum, v) => sum + v, 0) / Math.max(1, all.length)
}

/** What each of a candidate's frames after the first is to change by. @param times as much of it as beside the region */
export function wantedChanges(targets: readonly number[], pace: PlatePace, times: number): (number | null)[] {
  return targets.slice(1).map((target, i) => {
    const change = targets[i] === target - 1 ? pace.get(target) : undefined
    return change === undefined ? null : times * change
  })
}

/**
 * How much of made noise is carried to each of some frames from the one before.
 *
 * @param carried what it is at the usual pace, 0 to 1
 */
export function carriedAt(targets: readonly number[], pace: PlatePace, carried: number): number[] {
  const usual = usualPace(pace)
  return targets.map((target, i) => {
    const change = i > 0 && targets[i - 1] === target - 1 ? pace.get(target) : undefined
    return change === undefined || usual === 0 ? carried : Math.max(0, 1 - (1 - carried) * (change / usual))
  })
}

/**
 * How much more noise must be made, a factor of its variance, for as much of it to change in all: on the frame on which a codec begins
 * anew no more than all of it can.
 */
export function moreThatChanges(pace: PlatePace): number {
  const usual = usualPace(pace)
  if (usual === 0) return 1
  const changing = [...pace.values()].reduce((sum, v) => sum + Math.min(1, v / usual), 0) / pace.size
  return Math.min(MAX_MORE, 1 / changing)
}

/** The pace where a candidate goes with it. */
export function paceFor(pace: PlatePace | null, candidate: Candidate): PlatePace | null {
  return pace !== null && stands(candidate) ? pace : null
}
