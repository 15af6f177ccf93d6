// Target frames over the region's window, kept while a result is worked on: every candidate is laid over the same ones.
import { readRect } from '../../footage/plate.js'
import type { Frame } from '../../raster/frame.js'
import { RecentlyUsed } from '../../recently-used.js'
import type { RepairJob } from '../repair.js'

/** All that is kept at once, bytes: 48 frames over a window of 300 x 290 pixels. */
const MAX_BYTES = 48 * 2 ** 20

const ofJobs = new WeakMap<RepairJob, RecentlyUsed<Promise<Frame>>>()

/** Not to be written over. @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export function seenTarget(job: RepairJob, number: number): Promise<Frame> {
  const kept = ofJobs.get(job) ?? new RecentlyUsed<Promise<Frame>>(job.room * MAX_BYTES)
  ofJobs.set(job, kept)
  const name = String(number)
  const known = kept.get(name)
  if (known !== undefined) return known
  const { window } = job.region
  const seen = readRect(job.target, number, window)
  kept.set(name, seen, 12 * window.w * window.h)
  // What could not be read may be there the next time.
  seen.catch(() => kept.delete(name))
  return seen
}
