// The one resampler. A shift moves a whole picture alike, so the filter's taps are worked out once and a kernel weighs
// them, across and then down; under any other transform each pixel has its own.

import { CUBIC, type Filter, taps } from '../raster/filters.js'
import type { Plane } from '../raster/plane.js'
import { isShift, type Transform } from '../raster/transform.js'
import { warp } from './warp.js'
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
  if (!isShift(transform)) {
    const samples = ({ x, y, width: w, height: h, data }: Plane) => ({ rect: { x, y, w, h }, data })
    warp(workspace, samples(source), transform, samples(out), { channels: 1, filter, beyond: 'edge' })
    return
  }
  const across = taps(transform[2], filter)
  const down = taps(transform[5], filter)
  const nx = across.weights.length
  const ny = down.weights.length
  const { width, height } = out
  if (width === 0 || height === 0) return
  const left = out.x - source.x + across.start
  const top = out.y - source.y + down.start
  const { width: sw, height: sh } = source
  workspace.run((kernels, room) => {
    const from = room.read(source.data)
    const acrossAt = room.read(Float32Array.from(across.weights))
    const downAt = room.read(Float32Array.from(down.weights))
    const padded = room.space(4 * (width + nx - 1))
    const lines = room.space(4 * width * ny)
    const to = room.write(out.data)
    kernels.shift(from, sw, sh, left, top, acrossAt, nx, downAt, ny, to, width, height, padded, lines)
  })
}
