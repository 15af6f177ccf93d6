// What lends to a frame, as it is handed over.
import { type Placement, transformOf } from '../../raster/transform.js'
import type { FrameMatch, StackShare } from '../../search/result.js'
import type { PatchShare } from './patch.js'

/**
 * Who lends to a frame, the largest share first: that is the donor the frame is named by.
 *
 * @param finest of each that lends, whose finest detail stands for its own
 */
export function sharesOf(match: FrameMatch, finest?: readonly StackShare[] | null): PatchShare[] {
  const many = match.stack ?? match.pieces
  const shares = many ?? [{ ...match, frame: match.donor, weight: 1 }]
  const found = shares.map((share, k) => {
    const other = finest?.[k]
    const isOther = other !== undefined && other.frame !== share.frame
    return {
      ...lenderOf(share, match),
      share: share.weight,
      ...(isOther ? { finest: lenderOf(other, match) } : {}),
    }
  })
  return found.sort((a, b) => b.share - a.share)
}

/** Who lends, and all that makes its pixels the target's. */
export function lenderOf(
  { plate, frame, gain, field, ...at }: Omit<StackShare, 'weight'>,
  { target }: Pick<FrameMatch, 'target'>,
) {
  return {
    plate,
    frame,
    timeOffset: frame - target,
    ...placed(at),
    gain,
    ...(field ? { field } : {}),
  }
}

/** The offset, and the transform that is always said in full. */
export function placed({ dx, dy, transform }: Placement) {
  const matrix = [...transformOf({ dx, dy, transform })] as PatchShare['transform']
  return { dx, dy, transform: matrix }
}
