// Where the sheet gets its pictures from: the repair of one frame of one candidate.
import type { Frame } from '../../raster/frame.js'
import { RatioLifter } from '../../repair/lighting/lifter.js'
import { type RepairedFrame, type RepairJob, repairFrame } from '../../repair/repair.js'
import type { Candidate, FrameMatch } from '../../search/result.js'

/** What the sheet shows of one target frame of one candidate: linear light over the region's window. */
export interface RowPictures extends RepairedFrame {
  /** of a borrow: what the target is multiplied by, linear factors */
  readonly ratio?: Frame
}

/** A donor moved onto the target. */
export type DonorPicture = Pick<RowPictures, 'rect' | 'donor'>

/** Asked once per frame shown, several at a time. */
export interface PictureSource {
  pictures(candidate: Candidate, frame: FrameMatch): Promise<RowPictures>
  /** The donor alone, which takes far less time. */
  donor(candidate: Candidate, frame: FrameMatch): Promise<DonorPicture>
}

/** The pictures that patch would make of a result: the lent pixels of a hide, the lifted ratio of a borrow. */
export function picturesOf(job: RepairJob): PictureSource {
  const lifters = new Map<string, RatioLifter>()
  const lifterOf = (candidate: Candidate): RatioLifter | undefined => {
    if (!candidate.moment?.quietState?.length) return undefined
    const lifter = lifters.get(candidate.id) ?? new RatioLifter(job, candidate)
    lifters.set(candidate.id, lifter)
    return lifter
  }
  const pictures = async (candidate: Candidate, frame: FrameMatch): Promise<RowPictures> =>
    lifterOf(candidate)?.lift(frame) ?? repairFrame(job, frame, candidate.grain)
  return {
    pictures,
    donor: async (candidate, frame) => lifterOf(candidate)?.donor(frame) ?? pictures(candidate, frame),
  }
}
