// Donors laid on the target, kept while a result is worked on: candidates share them, and a camera that stands lays them
// alike on every target frame.
import { type Room, readRect } from '../../footage/plate.js'
import { type Held, ownCopy, type Workspace } from '../../kernels/workspace.js'
import { type Frame, frame as frameOf } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { isWhole, type Transform, transformOf } from '../../raster/transform.js'
import { RecentlyUsed } from '../../recently-used.js'
import type { FrameMatch, StackShare } from '../../search/result.js'
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

/** Who lends a frame's pixels: of a mosaic each piece as if it lent everything. */
export function lendersOf(match: FrameMatch): readonly StackShare[] {
  return (
    match.stack ??
    match.pieces?.map((piece) => ({ ...piece, weight: 1 })) ?? [{ ...match, frame: match.donor, weight: 1 }]
  )
}

const ofJobs = new WeakMap<RepairJob, RecentlyUsed<Promise<LentDonor>>>()

/** One of a frame's donors over the region's window. @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export function lentDonor(job: RepairJob, share: StackShare): Promise<LentDonor> {
  const kept = ofJobs.get(job) ?? new RecentlyUsed<Promise<LentDonor>>(job.room * MAX_BYTES)
  ofJobs.set(job, kept)
  const onTarget = transformOf(share)
  const name = nameOf(share, onTarget)
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

/**
 * The same for the length of a call: in the workspace, and forgotten, where more of them are moved for each target frame anew than
 * can be kept, as under a camera that moves.
 *
 * @param use must keep nothing of it @throws as lentDonor
 */
export async function withLentDonor<T>(
  job: RepairJob,
  share: StackShare,
  use: (donor: LentDonor) => T,
): Promise<T> {
  const onTarget = transformOf(share)
  const known = ofJobs.get(job)?.get(nameOf(share, onTarget))
  if (known !== undefined || isWhole(onTarget) || areMovedKept(job)) return use(await lentDonor(job, share))
  const { workspace, region } = job
  const donor = job.donors[share.plate]!
  const rect = donorRect(region.window, onTarget, donor.active)
  const held = workspace.hold()
  const room = { workspace, floats: held.floats }
  try {
    const source = await readRect(donor, share.frame, rect, room)
    return use({ ...lend(workspace, source, rect, region.window, onTarget, room), source, rect, onTarget })
  } finally {
    held.release()
  }
}

const keepsMoved = new WeakMap<RepairJob, boolean>()

/** Whether there is room for all that the result's candidates move by parts of a pixel, as each was shot and as it lies. */
function areMovedKept(job: RepairJob): boolean {
  const known = keepsMoved.get(job)
  if (known !== undefined) return known
  const moved = new Set<string>()
  for (const { frames } of job.result.candidates)
    for (const match of frames)
      for (const share of lendersOf(match)) {
        const onTarget = transformOf(share)
        if (!isWhole(onTarget)) moved.add(nameOf(share, onTarget))
      }
  const { w, h } = job.region.window
  const isRoom = moved.size * 2 * 12 * w * h <= job.room * MAX_BYTES
  keepsMoved.set(job, isRoom)
  return isRoom
}

function nameOf({ plate, frame }: StackShare, onTarget: Transform): string {
  return `${plate} ${frame} ${onTarget.join(' ')}`
}

async function laid(job: RepairJob, { plate, frame }: StackShare, onTarget: Transform): Promise<LentDonor> {
  const { workspace } = job
  const { window } = job.region
  const donor = job.donors[plate]!
  const rect = donorRect(window, onTarget, donor.active)
  const place = isWhole(onTarget) ? new HeldPlace(job, 12 * rect.w * rect.h) : null
  try {
    const source = await readRect(donor, frame, rect, place?.room)
    const asShot = lendAsShot(workspace, source, rect, window, onTarget)
    if (asShot !== null) {
      const picture = place?.keep(source) ?? source
      return { picture, there: asShot.there, source: picture, rect, onTarget }
    }
    const { data, shape } = source
    const own =
      data.buffer instanceof SharedArrayBuffer ? frameOf(shape[0], shape[1], 3, ownCopy(data)) : source
    return { ...lend(workspace, own, rect, window, onTarget), source: own, rect, onTarget }
  } finally {
    place?.giveBack()
  }
}

const heldBytes = new WeakMap<Workspace, number>()

/** Room for one picture in a job's workspace, as far as there is any; given back unless the picture stays there. */
class HeldPlace {
  readonly #held: Held | null
  #data: Float32Array | undefined
  #stays = false

  constructor(
    readonly job: RepairJob,
    readonly bytes: number,
  ) {
    const held = (heldBytes.get(job.workspace) ?? 0) + bytes
    const hasRoom = held <= job.room * MAX_HELD_BYTES
    if (hasRoom) heldBytes.set(job.workspace, held)
    this.#held = hasRoom ? job.workspace.hold() : null
  }

  /** Lends it; undefined where there is none. */
  get room(): Room | undefined {
    const held = this.#held
    if (held === null) return undefined
    const floats = (length: number) => {
      this.#data = held.floats(length)
      return this.#data
    }
    return { workspace: this.job.workspace, floats }
  }

  /** The picture there, for as long as the workspace is open; itself where there is no room. */
  keep(picture: Frame): Frame {
    if (this.#held === null) return picture
    this.#stays = true
    const { data, shape } = picture
    return data === this.#data ? picture : frameOf(shape[0], shape[1], 3, this.#held.laid(data))
  }

  giveBack(): void {
    if (this.#held === null || this.#stays) return
    this.#held.release()
    heldBytes.set(this.job.workspace, heldBytes.get(this.job.workspace)! - this.bytes)
  }
}
