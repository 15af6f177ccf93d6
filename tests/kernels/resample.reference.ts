// The slow twin of src/kernels/resample.ts: every output sample by the defining double sum, in double precision.
import type { Filter } from '../../src/raster/filters.js'
import type { Plane } from '../../src/raster/plane.js'

/** out(x, y) = source(x - dx, y - dy), the source's edge repeated beyond it, at one plate pixel. */
export function shiftedSample(source: Plane, dx: number, dy: number, x: number, y: number, kernel: Filter) {
  const across = weights(x - dx - source.x, source.width, kernel)
  const down = weights(y - dy - source.y, source.height, kernel)
  let sum = 0
  for (const [row, wy] of down)
    for (const [column, wx] of across) sum += wy * wx * source.data[row * source.width + column]
  return sum
}

function weights(at: number, length: number, kernel: Filter): [index: number, weight: number][] {
  const nearest = Math.ceil(at - 0.5)
  if (kernel.radius < 1) return [[Math.min(length - 1, Math.max(0, nearest)), 1]]
  const base = Math.floor(at)
  const found: [number, number][] = []
  for (let i = base - kernel.radius - 1; i <= base + kernel.radius + 1; i++) {
    const w = kernel.at(at - i)
    if (w !== 0) found.push([Math.min(length - 1, Math.max(0, i)), w])
  }
  const sum = found.reduce((s, [, w]) => s + w, 0)
  return found.map(([i, w]) => [i, w / sum])
}
