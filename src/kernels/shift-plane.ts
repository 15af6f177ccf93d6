// Sub-pixel translation of pictures. One shift for a whole picture, so the filter's taps are worked out once.

import type { Rect } from '../raster/rect.js'
import { floats, kernels, pointer, writing } from './memory.js'

/** An interpolation kernel: `radius` taps either side, `at(x)` its value at distance x in pixels. */
export interface Filter {
  readonly radius: number
  at(x: number): number
}

/** Catmull-Rom cubic (R. Keys, Cubic Convolution Interpolation, 1981, a = -0.5): for matching, 4 x 4 taps. */
export const CUBIC: Filter = {
  radius: 2,
  at(x) {
    const d = Math.abs(x)
    if (d < 1) return (1.5 * d - 2.5) * d * d + 1
    return d < 2 ? ((-0.5 * d + 2.5) * d - 4) * d + 2 : 0
  },
}

/** Lanczos with three lobes: for pixels that are lent, 6 x 6 taps. */
export const LANCZOS3: Filter = {
  radius: 3,
  at(x) {
    // Nearer than this the value is 1 to the last bit, and p * p could vanish into 0 / 0.
    if (Math.abs(x) < 1e-9) return 1
    if (Math.abs(x) >= 3) return 0
    const p = Math.PI * x
    return (3 * Math.sin(p) * Math.sin(p / 3)) / (p * p)
  },
}

/**
 * The taps that sample a picture `shift` pixels to the left of each pixel: out[x] = sum taps[k] * in[x + start + k].
 * They add up to 1, so flat pictures stay flat. A whole-pixel shift has the one tap 1.
 */
export function taps(shift: number, kernel: Filter): { start: number; weights: Float64Array } {
  const base = Math.floor(-shift)
  const fraction = -shift - base
  if (fraction === 0) return { start: base, weights: Float64Array.of(1) }
  const weights = new Float64Array(2 * kernel.radius)
  const start = base - kernel.radius + 1
  let sum = 0
  for (let k = 0; k < weights.length; k++) {
    weights[k] = kernel.at(k - kernel.radius + 1 - fraction)
    sum += weights[k]
  }
  for (let k = 0; k < weights.length; k++) weights[k] /= sum
  return { start, weights }
}

/** A plane of samples inside a larger grid: row-major, `width` by `height`, its corner at plate pixel (x, y). */
export interface Plane {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
  readonly data: Float32Array
}

export function plane(x: number, y: number, width: number, height: number): Plane {
  return { x, y, width, height, data: new Float32Array(width * height) }
}

/** A rectangle of a plane that holds it, as a plane of its own. */
export function cutPlane(source: Plane, { x, y, w, h }: Rect): Plane {
  const out = plane(x, y, w, h)
  for (let v = 0; v < h; v++) {
    const from = (v + y - source.y) * source.width + x - source.x
    out.data.set(source.data.subarray(from, from + w), v * w)
  }
  return out
}

/**
 * Moves a plane by (dx, dy) and cuts `out`'s rectangle from it: out(x, y) = source(x - dx, y - dy). Where the kernel
 * would reach beyond the source, its edge samples are repeated; ask `sourceSpan` first where that matters. `out` may lie
 * in the source's own samples.
 */
export function shiftPlane(source: Plane, dx: number, dy: number, out: Plane, kernel: Filter = CUBIC): void {
  const across = taps(dx, kernel)
  const down = taps(dy, kernel)
  const nx = across.weights.length
  const ny = down.weights.length
  const { width, height } = out
  if (width === 0 || height === 0) return
  const from = pointer(source.data, 'source')
  const acrossAt = pointer(Float32Array.from(across.weights), 'across')
  const downAt = pointer(Float32Array.from(down.weights), 'down')
  const padded = floats('line', width + nx - 1).byteOffset
  const lines = floats('lines', width * ny).byteOffset
  const left = out.x - source.x + across.start
  const top = out.y - source.y + down.start
  const { width: sw, height: sh } = source
  writing(out.data, 'out', (to) =>
    kernels.shift(from, sw, sh, left, top, acrossAt, nx, downAt, ny, to, width, height, padded, lines),
  )
}

/** The rectangle of a source that `shiftPlane` reads for an output rectangle. */
export function sourceSpan(
  outStart: number,
  outLength: number,
  shift: number,
  kernel: Filter,
): [first: number, last: number] {
  const { start, weights } = taps(shift, kernel)
  return [outStart + start, outStart + start + outLength - 1 + weights.length - 1]
}
