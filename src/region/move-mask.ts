// A mask that rides along with the scenery: drawn on one frame, laid on another.
import { resample } from '../kernels/resample.js'
import { Workspace } from '../kernels/workspace.js'
import { BILINEAR } from '../raster/filters.js'
import { cutSamples, plane } from '../raster/plane.js'
import { grow, intersect, isEmpty, type Rect } from '../raster/rect.js'
import { sourceRect } from '../raster/resample.js'
import { invert, isWhole, type Transform } from '../raster/transform.js'
import { type Mask, trimmed } from './mask.js'

/** A weight this near to 0 or 1 is it but for rounding: else a patch would reach one pixel further for nothing. */
const ROUNDING = 1e-4

/**
 * The mask as it lies after a transform, its weights straight lines between pixels, the mean of them where it gets smaller;
 * by whole pixels exactly the same.
 *
 * @param transform takes a pixel of the frame it was drawn on to the other frame
 * @param full      what of the other frame is kept: beyond it a mask is cut off
 * @returns an empty mask where nothing is left
 * @throws RangeError where the transform has no inverse
 */
export function moveMask(mask: Mask, transform: Transform, full: Rect): Mask {
  const { rect, data } = mask
  if (isEmpty(rect)) return mask
  if (isWhole(transform)) {
    const moved = { ...rect, x: rect.x + transform[2], y: rect.y + transform[5] }
    const part = intersect(moved, full)
    return trimmed({ rect: part, data: cutSamples(data, moved, part) })
  }
  const part = intersect(sourceRect(rect, invert(transform), BILINEAR.radius), full)
  if (isEmpty(part)) return { rect: part, data: new Float32Array(0) }
  // The edge is what goes on beyond a picture: here it is 0.
  const wider = grow(rect, 1)
  const source = plane(wider.x, wider.y, wider.w, wider.h)
  for (let y = 0; y < rect.h; y++)
    source.data.set(data.subarray(y * rect.w, (y + 1) * rect.w), (y + 1) * wider.w + 1)
  const out = plane(part.x, part.y, part.w, part.h)
  const workspace = new Workspace()
  resample(workspace, source, transform, out, BILINEAR)
  workspace.close()
  for (let i = 0; i < out.data.length; i++) {
    if (out.data[i] < ROUNDING) out.data[i] = 0
    else if (out.data[i] > 1 - ROUNDING) out.data[i] = 1
  }
  return trimmed({ rect: part, data: out.data })
}
