// A filter with negative weights overshoots beside an edge: in linear light a dark line along whatever is bright, which no plate has.
// What was moved is kept within what the source has round each place.
import { compose, invert, shift, type Transform } from '../raster/transform.js'
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
