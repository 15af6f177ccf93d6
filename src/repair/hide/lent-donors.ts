// Donors laid on the target, kept while a result is worked on: candidates share them, and a camera that stands lays them
// alike on every target frame.
import { readRect } from '../../footage/plate.js'
import type { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame as frameOf } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { type Transform, transformOf } from '../../raster/transform.js'
import { RecentlyUsed } from '../../recently-used.js'
import type { StackShare } from '../../search/result.js'
import { donorRect, type Lent, lend, lendAsShot } from '../lend.js'
import type { RepairJob } from '../repair.js'

/** All that is kept at once, bytes: 60 donors over a window of 300 x 300 pixels. */
const MAX_BYTES = 128 * 2 ** 20

/**
 * Of those that lie as they were shot, which lend to all target frames, so many bytes lie in the workspace for as long as it is open:
 * there kernels read them in place, else each is copied in for each picture. The first that come stay.
 */
const MAX_HELD_BYTES = 64 * 2 ** 20

/** Nothing of it is written over; what lies in the workspace is to be copied for who may keep it. */
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

async function laid(job: RepairJob, { plate, frame }: StackShare, onTarget: Transform): Promise<LentDonor> {
  const {
    donors,
    region: { window },
    workspace,
  } = job
  const donor = donors[plate]!
  const rect = donorRect(window, onTarget, donor.active)
  const source = await readRect(donor, frame, rect)
  const asShot = lendAsShot(workspace, source, rect, window, onTarget)
  if (asShot === null) return { ...lend(workspace, source, rect, window, onTarget), source, rect, onTarget }
  const picture = inWorkspace(job, source)
  return { picture, there: asShot.there, source: picture, rect, onTarget }
}

const heldBytes = new WeakMap<Workspace, number>()

/** The same picture in the job's workspace, as far as there is room. */
function inWorkspace({ workspace, room }: RepairJob, picture: Frame): Frame {
  const { data, shape } = picture
  const held = (heldBytes.get(workspace) ?? 0) + data.byteLength
  if (held > room * MAX_HELD_BYTES) return picture
  heldBytes.set(workspace, held)
  return frameOf(shape[0], shape[1], 3, workspace.hold().laid(data))
}
