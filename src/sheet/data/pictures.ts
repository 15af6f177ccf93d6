// Where the sheet gets its pictures from: the repair of one frame of one candidate.
import type { Frame } from '../../raster/frame.js'
import { FinishMeter } from '../../repair/finish/meter.js'
import { HidePass } from '../../repair/hide/hide-pass.js'
import { LightingPass } from '../../repair/lighting/lighting-pass.js'
import type { RepairedFrame, RepairJob } from '../../repair/repair.js'
import type { Candidate, FrameMatch } from '../../search/result.js'

/** What the sheet shows of one target frame of one candidate: linear light over the region's window. */
export interface RowPictures extends RepairedFrame {
  /** of a borrow: what the target is multiplied by, linear factors */
  readonly ratio?: Frame
}

/** A donor moved onto the target. */
export type DonorPicture = Pick<RowPictures, 'rect' | 'donor'>

/** Takes in frames in their order. */
export type FrameMeter = Pick<FinishMeter, 'add' | 'done'>

/** Asked once per frame shown, several at a time. */
export interface PictureSource {
  pictures(candidate: Candidate, frame: FrameMatch): Promise<RowPictures>
  /** The donor alone, which takes far less time. */
  donor(candidate: Candidate, frame: FrameMatch): Promise<DonorPicture>
  /** Measures repaired frames of a hide, in their order; absent where they can't be. */
  meter?(): Promise<FrameMeter>
}

/** The pictures that patch would make of a result: the lent pixels of a hide, the lifted ratio of a borrow. */
export function picturesOf(job: RepairJob): PictureSource {
  const passes = new Map<string, LightingPass>()
  const passOf = (candidate: Candidate): LightingPass | undefined => {
    if (!candidate.moment?.quietState?.length) return undefined
    const pass = passes.get(candidate.id) ?? new LightingPass(job, candidate)
    passes.set(candidate.id, pass)
    return pass
  }
  const hides = new Map<string, HidePass>()
  const hideOf = (candidate: Candidate): HidePass => {
    const pass = hides.get(candidate.id) ?? new HidePass(job, candidate)
    hides.set(candidate.id, pass)
    return pass
  }
  const pictures = async (candidate: Candidate, frame: FrameMatch): Promise<RowPictures> =>
    passOf(candidate)?.lift(frame) ?? hideOf(candidate).repair(frame)
  return {
    pictures,
    donor: async (candidate, frame) => passOf(candidate)?.donor(frame) ?? pictures(candidate, frame),
    meter: () => FinishMeter.over(job),
  }
}
