// Donors laid on the target, kept while a result is worked on: candidates share them, and a camera that stands lays them
// alike on every target frame.
import { readRect } from '../../footage/plate.js'
import type { Frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { type Transform, transformOf } from '../../raster/transform.js'
import { RecentlyUsed } from '../../recently-used.js'
import type { StackShare } from '../../search/result.js'
import { donorRect, type Lent, lend, lendAsShot } from '../lend.js'
import type { RepairJob } from '../repair.js'

/** All that is kept at once, bytes: 60 donors over a window of 300 x 300 pixels. */
const MAX_BYTES = 128 * 2 ** 20

/** Nothing of it is written over. */
export interface LentDonor extends Lent {
  /** As it was shot, over `rect`. */
  readonly source: Frame
  readonly rect: Rect
  readonly onTarget: Transform
}

const ofJobs = new WeakMap<RepairJob, RecentlyUsed<Promise<LentDonor>>>()

/** One of a frame's donors over the region's window. @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export function lentDonor(job: RepairJob, share: StackShare): Promise<LentDonor> {
  const kept = ofJobs.get(job) ?? new RecentlyUsed<Promise<LentDonor>>(job.room * MAX_BYTES)
  ofJobs.set(job, kept)
  const onTarget = transformOf(share)
  const name = `${share.plate} ${share.frame} ${onTarget.join(' ')}`
  const known = kept.get(name)
  if (known !== undefined) return known
  const lent = laid(job, share, onTarget)
  kept.set(name, lent, 0)
  lent.then(
    ({ source, picture, there }) => {
      const pictures = picture === source ? [source] : [source, picture]
      kept.set(
        name,
        lent,
        pictures.reduce((sum, { data }) => sum + data.byteLength, there.byteLength),
      )
    },
    // What could not be read may be there the next time.
    () => kept.delete(name),
  )
  return lent
}

async function laid(
  { donors, region: { window }, workspace }: RepairJob,
  { plate, frame }: StackShare,
  onTarget: Transform,
): Promise<LentDonor> {
  const donor = donors[plate]!
  const rect = donorRect(window, onTarget, donor.active)
  const source = await readRect(donor, frame, rect)
  const { picture, there } =
    lendAsShot(workspace, source, rect, window, onTarget) ?? lend(workspace, source, rect, window, onTarget)
  return { picture, there, source, rect, onTarget }
}
