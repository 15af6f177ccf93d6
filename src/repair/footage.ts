// What a repair is about to read. A movie has no way to a single frame but through those before it, and repairs come
// back to the same frames in any order: of a movie all that is needed is decoded in one pass and kept meanwhile.

import type { Plate } from '../footage/plate.js'
import { keepRects } from '../footage/read-many.js'
import type { OnProgress } from '../progress.js'
import { grow, intersect, type Rect, unite } from '../raster/rect.js'
import { compose, type Placement, type Transform, transformOf } from '../raster/transform.js'
import type { Candidate, FrameMatch } from '../search/result.js'
import { grainFootage } from './hide/plate-grain.js'
import { framesRound } from './hide/round-donor.js'
import { donorRect } from './lend.js'
import type { RepairJob } from './repair.js'

/** Room round an unlit frame's rectangle for the camera's sway, pixels. */
export const SWAY_ROOM_PX = 8

export interface FootageOptions {
  /** The target's full frames are read, not the region's window alone. */
  readonly whole?: boolean
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/** One rectangle of some frames of a plate. */
interface Wanted {
  readonly plate: Plate
  readonly frames: Set<number>
  rect: Rect
}

/** Runs `work` while all that repairing these candidates reads of movies is kept. @throws as `work`, and the abort reason */
export async function withFootage<T>(
  job: RepairJob,
  candidates: readonly Candidate[],
  { whole = false, onProgress, signal }: FootageOptions,
  work: () => Promise<T>,
): Promise<T> {
  const releases: (() => Promise<void>)[] = []
  try {
    for (const { plate, frames, rect } of wantedOf(job, candidates, whole))
      releases.push(await keepRects(plate, [...frames], rect, { onProgress, signal }))
    return await work()
  } finally {
    for (const release of releases) await release()
  }
}

function wantedOf(job: RepairJob, candidates: readonly Candidate[], whole: boolean): Wanted[] {
  const { target, donors, region, result } = job
  const targets = { plate: target, frames: new Set<number>(), rect: whole ? fullOf(target) : region.window }
  // Full frames are kept of the target's few only; otherwise one pass serves a plate as both.
  const lenders = donors.map(
    (plate): Wanted =>
      plate === target && !whole ? targets : { plate, frames: new Set(), rect: { x: 0, y: 0, w: 0, h: 0 } },
  )
  const want = (plate: number, frame: number, onTarget: Transform, room: number) => {
    const lender = lenders[plate]!
    const full = fullOf(lender.plate)
    lender.frames.add(frame)
    lender.rect = unite(lender.rect, intersect(grow(donorRect(region.window, onTarget, full), room), full))
  }
  if (whole) for (const frame of result.region.empty ?? []) targets.frames.add(frame)
  if (candidates.some(({ moment }) => moment === undefined)) {
    const { rect, targets: round, lenders: best, near, steps } = grainFootage(job)
    const both = steps.flatMap((frame) => [frame - 1, frame])
    for (const frame of [...round, ...best, ...near, ...both, ...region.frames.keys()])
      targets.frames.add(frame)
    targets.rect = unite(targets.rect, rect)
  }
  // A hold's grain is that of the stack's donors.
  const lending = candidates.some((c) => c.kind === 'hold')
    ? result.candidates.filter((c) => c.kind === 'stack')
    : []
  for (const candidate of candidates)
    for (const share of framesRound(job, candidate)) want(share.plate, share.frame, transformOf(share), 0)
  for (const { frames, moment } of [...candidates, ...lending]) {
    for (const match of frames) {
      targets.frames.add(match.target)
      want(match.plate, match.donor, transformOf(match), 0)
      for (const share of match.stack ?? match.pieces ?? [])
        want(share.plate, share.frame, transformOf(share), 0)
      const place = transformOf(placeOf(match))
      for (const share of moment?.quietState ?? [])
        want(share.plate, share.frame, compose(place, transformOf(share)), SWAY_ROOM_PX)
    }
  }
  return [...new Set([targets, ...lenders])].filter(({ frames }) => frames.size > 0)
}

function fullOf({ width, height }: Plate): Rect {
  return { x: 0, y: 0, w: width, h: height }
}

/** What moves the frame of a moment's peak onto a target frame; of a hide, the donor. */
export function placeOf(match: FrameMatch): Placement {
  return match.quiet ?? match
}
