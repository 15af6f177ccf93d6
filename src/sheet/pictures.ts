// Where the sheet gets its pictures from: the repair of one frame of one candidate.
import type { Frame } from '../raster/frame.js'
import { RatioLifter } from '../repair/ratio.js'
import { type RepairedFrame, type RepairJob, repairFrame } from '../repair/repair.js'
import type { Candidate, FrameMatch } from '../search/result.js'

/** What the sheet shows of one target frame of one candidate: linear light over the region's window. */
export interface RowPictures extends RepairedFrame {
  /** of a borrow: what the target is multiplied by, linear factors */
  readonly ratio?: Frame
}

/** Asked once per frame shown, several at a time. */
export type PictureSource = (candidate: Candidate, frame: FrameMatch) => Promise<RowPictures>

/** The pictures that patch would make of a result: the lent pixels of a hide, the lifted ratio of a borrow. */
export function picturesOf(job: RepairJob): PictureSource {
  const lifters = new Map<string, RatioLifter>()
  return (candidate, frame) => {
    if (!candidate.moment?.quietState?.length) return repairFrame(job, frame, candidate.grain)
    let lifter = lifters.get(candidate.id)
    if (!lifter) {
      lifter = new RatioLifter(job, candidate)
      lifters.set(candidate.id, lifter)
    }
    return lifter.lift(frame)
  }
}
