// A filter with negative weights overshoots beside an edge: in linear light a dark line along whatever is bright, which no plate has.
// What was moved is kept within what the source has round each place.
import { contains, type Rect } from '../raster/rect.js'
import { compose, invert, isShift, shift, type Transform } from '../raster/transform.js'
import type { Samples } from './warp.js'
import type { Workspace } from './workspace.js'

/**
 * @param source interleaved RGB, of which `out` was moved; every sample finite
 * @param out    changed
 * @param reach  samples to either side of a place that are looked at
 * @throws RangeError where the transform has no inverse
 */
export function keepWithin(
  workspace: Workspace,
  source: Samples,
  transform: Transform,
  out: Samples,
  reach: number,
): void {
  const looked = isShift(transform) && out.rect.w > 1 ? lookedAt(out.rect, transform, reach) : null
  if (looked !== null && contains(source.rect, looked)) keepShifted(workspace, source, looked, out, 2 * reach)
  else keepMoved(workspace, source, transform, out, reach)
}

function keepMoved(
  workspace: Workspace,
  { rect, data }: Samples,
  transform: Transform,
  out: Samples,
  reach: number,
): void {
  const back = compose(shift(-rect.x, -rect.y), compose(invert(transform), shift(out.rect.x, out.rect.y)))
  workspace.run((kernels, room) =>
    kernels.keepWithin(
      room.read(data),
      rect.w,
      rect.h,
      room.read(Float64Array.from(back)),
      reach,
      room.change(out.data),
      out.rect.w,
      out.rect.h,
    ),
  )
}

/** The source's samples that the pixels of a shifted picture look at. */
function lookedAt({ x, y, w, h }: Rect, transform: Transform, reach: number): Rect {
  const before = (place: number) => Math.floor(place) - reach + 1
  const more = 2 * reach - 1
  return { x: before(x - transform[2]), y: before(y - transform[5]), w: w + more, h: h + more }
}

/** @param looked as lookedAt, all of it there @param span samples in each direction round a place */
function keepShifted(
  workspace: Workspace,
  { rect, data }: Samples,
  looked: Rect,
  out: Samples,
  span: number,
): void {
  const first = 3 * ((looked.y - rect.y) * rect.w + looked.x - rect.x)
  workspace.run((kernels, room) =>
    kernels.keepShifted(
      room.read(data) + 4 * first,
      rect.w,
      span,
      room.space(4 * 6 * looked.w),
      room.change(out.data),
      out.rect.w,
      out.rect.h,
    ),
  )
}
