// What lends to a frame, as it is handed over.
import { type Placement, transformOf } from '../../raster/transform.js'
import type { FrameMatch } from '../../search/result.js'
import type { PatchShare } from './patch.js'

/** Who lends to a frame, the largest share first: that is the donor the frame is named by. */
export function sharesOf(match: FrameMatch): PatchShare[] {
  const many = match.stack ?? match.pieces
  const shares = many ?? [{ ...match, frame: match.donor, weight: 1 }]
  const found = shares.map(({ plate, frame, gain, field, weight, ...at }) => ({
    plate,
    frame,
    timeOffset: frame - match.target,
    ...placed(at),
    gain,
    ...(field ? { field } : {}),
    share: weight,
  }))
  return found.sort((a, b) => b.share - a.share)
}

/** The offset, and the transform that is always said in full. */
export function placed({ dx, dy, transform }: Placement) {
  const matrix = [...transformOf({ dx, dy, transform })] as PatchShare['transform']
  return { dx, dy, transform: matrix }
}
