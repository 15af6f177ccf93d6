// Donors laid on the target, kept while a result is worked on: candidates share them, and a camera that stands lays them
// alike on every target frame.
import { readRect } from '../../footage/plate.js'
import type { Frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { type Transform, transformOf } from '../../raster/transform.js'
import type { StackShare } from '../../search/result.js'
import { donorRect, type Lent, lend } from '../lend.js'
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

interface Kept {
  readonly lent: Promise<LentDonor>
  bytes: number
}

/** Of one job, the one that was used longest ago first. */
class LentDonors {
  readonly #kept = new Map<string, Kept>()
  #bytes = 0

  get(job: RepairJob, share: StackShare): Promise<LentDonor> {
    const onTarget = transformOf(share)
    const key = `${share.plate} ${share.frame} ${onTarget.join(' ')}`
    const kept = this.#kept.get(key) ?? this.#load(key, job, share, onTarget)
    this.#kept.delete(key)
    this.#kept.set(key, kept)
    return kept.lent
  }

  #load(key: string, job: RepairJob, share: StackShare, onTarget: Transform): Kept {
    const kept: Kept = { lent: laid(job, share, onTarget), bytes: 0 }
    kept.lent.then(
      ({ source, picture, there }) => {
        if (this.#kept.get(key) !== kept) return
        kept.bytes = source.data.byteLength + picture.data.byteLength + there.byteLength
        this.#bytes += kept.bytes
        this.#makeRoom()
      },
      // What could not be read may be there the next time.
      () => {
        if (this.#kept.get(key) === kept) this.#kept.delete(key)
      },
    )
    return kept
  }

  #makeRoom(): void {
    for (const [key, { bytes }] of this.#kept) {
      if (this.#bytes <= MAX_BYTES) return
      this.#bytes -= bytes
      this.#kept.delete(key)
    }
  }
}

const ofJobs = new WeakMap<RepairJob, LentDonors>()

/** One of a frame's donors over the region's window. @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export function lentDonor(job: RepairJob, share: StackShare): Promise<LentDonor> {
  const lent = ofJobs.get(job) ?? new LentDonors()
  ofJobs.set(job, lent)
  return lent.get(job, share)
}

async function laid(
  { donors, region: { window }, workspace }: RepairJob,
  { plate, frame }: StackShare,
  onTarget: Transform,
): Promise<LentDonor> {
  const donor = donors[plate]!
  const rect = donorRect(window, onTarget, donor.active)
  const source = await readRect(donor, frame, rect)
  return { ...lend(workspace, source, rect, window, onTarget), source, rect, onTarget }
}
