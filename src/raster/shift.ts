// Sub-pixel translation of pictures. One shift for a whole picture, so the filter's taps are worked out once.
import type { Rect } from './rect.js'

/** An interpolation kernel: `radius` taps either side, `at(x)` its value at distance x in pixels. */
export interface Kernel {
  readonly radius: number
  at(x: number): number
}

/** Catmull-Rom cubic (R. Keys, Cubic Convolution Interpolation, 1981, a = -0.5): for matching, 4 x 4 taps. */
export const CUBIC: Kernel = {
  radius: 2,
  at(x) {
    const d = Math.abs(x)
    if (d < 1) return (1.5 * d - 2.5) * d * d + 1
    return d < 2 ? ((-0.5 * d + 2.5) * d - 4) * d + 2 : 0
  },
}

/** Lanczos with three lobes: for pixels that are lent, 6 x 6 taps. */
export const LANCZOS3: Kernel = {
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
export function taps(shift: number, kernel: Kernel): { start: number; weights: Float64Array } {
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
 * would reach beyond the source, its edge samples are repeated; ask `sourceCovers` first where that matters.
 *
 * @param scratch at least source.height * out.width samples; allocated when absent
 */
export function shiftPlane(
  source: Plane,
  dx: number,
  dy: number,
  out: Plane,
  kernel: Kernel = CUBIC,
  scratch: Float32Array = new Float32Array(source.height * out.width),
): void {
  const across = taps(dx, kernel)
  const down = taps(dy, kernel)
  const { width: sw, height: sh, data } = source
  const { width: ow, height: oh } = out
  const left = out.x - source.x + across.start
  const top = out.y - source.y + down.start
  const nx = across.weights.length
  const ny = down.weights.length
  const firstRow = clamp(top, 0, sh - 1)
  const lastRow = clamp(top + oh + ny - 2, 0, sh - 1)
  const inside = left >= 0 && left + ow + nx - 1 <= sw
  const line = new Float64Array(ow)
  for (let y = firstRow; y <= lastRow; y++) {
    const row = y * sw
    const to = y * ow
    if (inside && nx === 4) {
      // The cubic's four taps spelled out: every frame of a search is moved once.
      const [a, b, c, d] = across.weights
      for (let x = 0, i = row + left; x < ow; x++, i++)
        scratch[to + x] = a * data[i] + b * data[i + 1] + c * data[i + 2] + d * data[i + 3]
      continue
    }
    for (let x = 0; x < ow; x++) {
      let sum = 0
      if (inside) {
        const from = row + left + x
        for (let k = 0; k < nx; k++) sum += across.weights[k] * data[from + k]
      } else {
        for (let k = 0; k < nx; k++) sum += across.weights[k] * data[row + clamp(left + x + k, 0, sw - 1)]
      }
      scratch[to + x] = sum
    }
  }
  for (let y = 0; y < oh; y++) {
    const to = y * ow
    for (let k = 0; k < ny; k++) {
      const weight = down.weights[k]
      const from = clamp(top + y + k, 0, sh - 1) * ow
      for (let x = 0; x < ow; x++) line[x] = (k === 0 ? 0 : line[x]) + weight * scratch[from + x]
    }
    for (let x = 0; x < ow; x++) out.data[to + x] = line[x]
  }
}

/** The rectangle of a source that `shiftPlane` reads for an output rectangle. */
export function sourceSpan(
  outStart: number,
  outLength: number,
  shift: number,
  kernel: Kernel,
): [first: number, last: number] {
  const { start, weights } = taps(shift, kernel)
  return [outStart + start, outStart + start + outLength - 1 + weights.length - 1]
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(Math.max(value, low), high)
}
