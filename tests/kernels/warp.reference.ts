// The slow twin of src/kernels/warp.ts: every output sample by the defining double sum, in double precision, how much of the
// source it covers by how far its neighbours' places lie apart.
import type { Filter } from '../../src/raster/filters.js'
import type { Plane } from '../../src/raster/plane.js'
import { apply, invert, type Transform } from '../../src/raster/transform.js'

const NEAR = 1e-4

/** out(p) = source(invert(transform)(p)), the source's edge repeated beyond it. */
export function warpedSample(
  source: Plane,
  transform: Transform,
  x: number,
  y: number,
  filter: Filter,
): number {
  const back = invert(transform)
  const from = apply(back, x, y)
  const [left, right] = [apply(back, x - NEAR, y), apply(back, x + NEAR, y)]
  const [upper, lower] = [apply(back, x, y - NEAR), apply(back, x, y + NEAR)]
  const wide = Math.hypot(right.x - left.x, lower.x - upper.x) / (2 * NEAR)
  const high = Math.hypot(right.y - left.y, lower.y - upper.y) / (2 * NEAR)
  let sum = 0
  for (const [row, wy] of weights(from.y - source.y, high, source.height, filter))
    for (const [column, wx] of weights(from.x - source.x, wide, source.width, filter))
      sum += wy * wx * source.data[row * source.width + column]
  return sum
}

function weights(
  at: number,
  covered: number,
  length: number,
  filter: Filter,
): [index: number, weight: number][] {
  const edge = (i: number) => Math.min(length - 1, Math.max(0, i))
  if (filter.radius < 1) return [[edge(Math.ceil(at - 0.5)), 1]]
  const stretch = Math.min(8, Math.max(1, covered))
  const found: [number, number][] = []
  const reach = filter.radius * stretch + 1
  for (let i = Math.floor(at - reach); i <= at + reach; i++) found.push([i, filter.at((at - i) / stretch)])
  const sum = found.reduce((s, [, w]) => s + w, 0)
  return found.map(([i, w]) => [edge(i), w / sum])
}
