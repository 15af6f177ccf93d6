// The one resampler. A shift moves a whole picture alike, so the filter's taps are worked out once and a kernel weighs
// them, across and then down; under any other transform each pixel has its own.

import { CUBIC, type Filter, taps } from '../raster/filters.js'
import type { Plane } from '../raster/plane.js'
import { isShift, type Transform } from '../raster/transform.js'
import { type Samples, warp } from './warp.js'
import type { Workspace } from './workspace.js'

/**
 * Moves a plane by a transform and cuts `out`'s rectangle from it; of a shift out(x, y) = source(x - dx, y - dy). Where
 * it makes the source smaller the filter is stretched, so that nothing comes back as moire. Where the filter would reach
 * beyond the source, its edge samples are repeated; ask `sourceRect` first where that matters. `out` may lie in the
 * source's own samples.
 *
 * @throws RangeError where the transform has no inverse
 */
export function resample(
  workspace: Workspace,
  source: Plane,
  transform: Transform,
  out: Plane,
  filter: Filter = CUBIC,
): void {
  const [from, to] = [samplesOf(source), samplesOf(out)]
  if (isShift(transform)) shifted(workspace, from, transform, to, filter, 1)
  else warp(workspace, from, transform, to, { channels: 1, filter, beyond: 'edge' })
}

/**
 * The same of interleaved RGB, each channel as if it were by itself.
 *
 * @throws RangeError where the transform has no inverse
 */
export function resampleRgb(
  workspace: Workspace,
  source: Samples,
  transform: Transform,
  out: Samples,
  filter: Filter,
): void {
  if (isShift(transform)) shifted(workspace, source, transform, out, filter, 3)
  else warp(workspace, source, transform, out, { channels: 3, filter, beyond: 'edge' })
}

function samplesOf({ x, y, width: w, height: h, data }: Plane): Samples {
  return { rect: { x, y, w, h }, data }
}

function shifted(
  workspace: Workspace,
  { rect, data }: Samples,
  transform: Transform,
  out: Samples,
  filter: Filter,
  channels: 1 | 3,
): void {
  const across = taps(transform[2], filter)
  const down = taps(transform[5], filter)
  const nx = across.weights.length
  const ny = down.weights.length
  const { w, h } = out.rect
  if (w === 0 || h === 0) return
  workspace.run((kernels, room) =>
    kernels.shift(
      room.read(data),
      rect.w,
      rect.h,
      channels,
      out.rect.x - rect.x + across.start,
      out.rect.y - rect.y + down.start,
      room.read(Float32Array.from(across.weights)),
      nx,
      room.read(Float32Array.from(down.weights)),
      ny,
      room.write(out.data),
      w,
      h,
      room.space(4 * channels * (w + nx - 1)),
      room.space(4 * channels * w * ny),
    ),
  )
}
