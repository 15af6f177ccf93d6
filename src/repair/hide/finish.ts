// What of a repaired frame is seen first in review, in numbers: does its light step at the edge, is it smoother or rougher than
// what lends to it, does it boil or stand still beside the plate?
import { LOCKED_PX } from '../../match/thresholds.js'
import { dilate } from '../../region/region.js'
import type { FrameMatch } from '../../search/result.js'
import { DETAIL_PX, GREEN } from '../grain/detail-spectrum.js'
import { AROUND_PX, detailEnergy, grainDetail } from '../grain/fit.js'
import type { GrainModel } from '../grain/model.js'
import type { RepairedFrame } from '../repair.js'

/** Numbers of one frame; null where there is nothing to tell them by. */
export interface Finish {
  /** Difference on the surround after the light is matched, in units of what grain alone would give. */
  readonly seam: number | null
  /** Detail inside over that of the donors by themselves, a ratio of standard deviations. */
  readonly detail: number | null
  /** Change of detail from the frame before, over what the plate's grain changes by; null where the camera moves. */
  readonly change: number | null
}

/** What is within these is as the plate is; beyond, somebody should look. */
export const FINISH_LIMITS = { seam: [0, 1.2], detail: [0.9, 1.1], change: [0.9, 1.1] } as const

/** Frames in order, one after the other. */
export class FinishMeter {
  #before: { readonly match: FrameMatch; readonly made: RepairedFrame } | undefined

  /** @param model null where the plate's grain is unknown */
  constructor(readonly model: GrainModel | null) {}

  of(match: FrameMatch, made: RepairedFrame): Finish {
    const before = this.#before
    this.#before = { match, made }
    const change =
      before && this.model && standsStill(before.match, match)
        ? changeOver(this.model, before.made, made)
        : null
    return { seam: match.seam, detail: made.detail ?? null, change }
  }
}

/** Do both frames lie where their donors do, or alike beside them? Then what differs between them is not the camera. */
function standsStill(a: FrameMatch, b: FrameMatch): boolean {
  if (b.target !== a.target + 1 || a.transform !== undefined || b.transform !== undefined) return false
  const goesAlong = b.plate === a.plate && (b.donor === a.donor || b.donor === a.donor + 1)
  return goesAlong && Math.hypot(b.dx - a.dx, b.dy - a.dy) <= LOCKED_PX
}

function changeOver(model: GrainModel, a: RepairedFrame, b: RepairedFrame): number | null {
  const difference = { ...b.repaired, data: b.repaired.data.map((v, i) => v - a.repaired.data[i]!) }
  const energy = detailEnergy(difference as typeof b.repaired)
  const width = b.repaired.shape[1]
  // What is told at a pixel is told of some pixels round it: those must be the patch's, too.
  const beyond = dilate(
    Uint8Array.from(b.alpha, (v, i) => (v === 1 && a.alpha[i] === 1 ? 0 : 1)),
    width,
    b.alpha.length / width,
    DETAIL_PX + AROUND_PX,
  )
  let [measured, wanted] = [0, 0]
  for (let i = 0; i < b.alpha.length; i++) {
    if (beyond[i] === 1) continue
    measured += energy[i]!
    // Half of the variance of a change is fresh in each of two frames.
    wanted += 2 * grainDetail(model, model.fresh, b.repaired.data[3 * i + GREEN]!, i)
  }
  return wanted > 0 ? Math.sqrt(measured / wanted) : null
}
