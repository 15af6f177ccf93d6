// A mask that rides along: drawn on one frame, laid on another.
import { BILINEAR } from '../raster/filters.js'
import { cutPlane, plane } from '../raster/plane.js'
import { boundsOf, intersect, isEmpty, type Rect } from '../raster/rect.js'
import { resamplePlane } from '../raster/resample.js'
import { apply, isWhole, type Transform } from '../raster/transform.js'
import type { Mask } from './mask.js'

/** @param full what of it is kept */
export function moveMask({ rect, data }: Mask, transform: Transform, full: Rect): Mask {
  const none = { rect: { x: 0, y: 0, w: 0, h: 0 }, data: new Float32Array(0) }
  if (isEmpty(rect)) return none
  if (isWhole(transform)) {
    const moved = { ...rect, x: rect.x + transform[2], y: rect.y + transform[5] }
    const part = intersect(moved, full)
    if (isEmpty(part)) return none
    const cut = cutPlane({ x: moved.x, y: moved.y, width: moved.w, height: moved.h, data }, part)
    return { rect: part, data: cut.data }
  }
  const corners = [rect.x - 1, rect.x + rect.w].flatMap((x) =>
    [rect.y - 1, rect.y + rect.h].map((y) => apply(transform, x, y)),
  )
  const [xs, ys] = [corners.map((c) => c.x), corners.map((c) => c.y)]
  const [x, y] = [Math.floor(Math.min(...xs)), Math.floor(Math.min(...ys))]
  const reached = { x, y, w: Math.ceil(Math.max(...xs)) - x + 1, h: Math.ceil(Math.max(...ys)) - y + 1 }
  const part = intersect(reached, full)
  if (isEmpty(part)) return none
  // A border of nothing, so that what lies beyond the mask is nothing too.
  const padded = plane(rect.x - 2, rect.y - 2, rect.w + 4, rect.h + 4)
  for (let v = 0; v < rect.h; v++)
    padded.data.set(data.subarray(v * rect.w, (v + 1) * rect.w), (v + 2) * padded.width + 2)
  const out = plane(part.x, part.y, part.w, part.h)
  resamplePlane(padded, transform, out, BILINEAR)
  const bounds = boundsOf(out.data, part.w)
  if (bounds === null) return none
  const kept = { ...bounds, x: bounds.x + part.x, y: bounds.y + part.y }
  return { rect: kept, data: cutPlane(out, kept).data }
}
