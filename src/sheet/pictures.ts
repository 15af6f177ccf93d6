// What the sheet needs to see of a candidate: the interface that the repair step fills.
import type { Frame } from '../raster/frame.js'
import type { Rect } from '../raster/rect.js'
import type { Candidate, FrameMatch } from '../search/result.js'

/**
 * One target frame of one candidate. The three frames are linear light RGB, [rect.h, rect.w, 3], and show the same
 * rectangle: the mask's box with its surround and a margin, inside the plate.
 */
export interface RowPictures {
  /** where in the plate the pictures lie */
  readonly rect: Rect
  readonly target: Frame
  /** moved onto the target by the 2D offset, its light not yet matched */
  readonly donor: Frame
  /** what the patch makes, over the target */
  readonly repaired: Frame
  /** 0 to 1, row-major, rect.w * rect.h; above 0 wherever the repaired picture may differ from the target */
  readonly mask: Float32Array
}

export type PictureSource = (candidate: Candidate, frame: FrameMatch) => Promise<RowPictures>
