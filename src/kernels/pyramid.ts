// Smoothing and halving of planes, for coarse-to-fine search. Each writes into a new plane, or into samples that are
// given, as many as it makes.
import { floats, kernels, pointer, writing } from './memory.js'
import type { Plane } from './shift-plane.js'

/** [1 4 6 4 1] / 16 both ways: the usual binomial low pass, sigma 1 px. Edge samples are repeated. */
export function smooth(source: Plane, out: Float32Array = new Float32Array(source.data.length)): Plane {
  const { x, y, width, height, data } = source
  if (data.length > 0) {
    const from = pointer(data, 'source')
    const line = floats('line', width + 4).byteOffset
    writing(out, 'out', (to) => kernels.smooth(from, to, line, width, height))
  }
  return { x, y, width, height, data: out }
}

/**
 * Half the size by averaging 2 x 2 pixels; an odd last row or column is left out. The corner keeps its plate position
 * in half-size pixels, so it must be even for two planes to be comparable: see `evenCorner`.
 */
export function halve(
  source: Plane,
  out: Float32Array = new Float32Array((source.width >> 1) * (source.height >> 1)),
): Plane {
  const { width, height } = source
  const from = pointer(source.data, 'source')
  writing(out, 'out', (to) => kernels.halve(from, to, width, height))
  return { x: source.x >> 1, y: source.y >> 1, width: width >> 1, height: height >> 1, data: out }
}

/** Mean over a square of 2 * radius + 1 pixels, by running sums; at the edges over what of it lies inside. */
export function boxBlur(
  source: Plane,
  radius: number,
  out: Float32Array = new Float32Array(source.data.length),
): Plane {
  const { x, y, width, height, data } = source
  const across = new Float32Array(data.length)
  for (let v = 0; v < height; v++) blurRow(data, across, v * width, width, radius)
  // Down, all columns side by side: the sums of a whole row are kept, so that memory is walked in its own order.
  const sums = new Float64Array(width)
  let n = 0
  for (let v = -radius; v < height; v++) {
    const added = v + radius
    if (added < height) {
      n++
      for (let u = 0, i = added * width; u < width; u++, i++) sums[u] += across[i]
    }
    const dropped = v - radius - 1
    if (dropped >= 0) {
      n--
      for (let u = 0, i = dropped * width; u < width; u++, i++) sums[u] -= across[i]
    }
    if (v < 0) continue
    for (let u = 0, i = v * width; u < width; u++, i++) out[i] = sums[u] / n
  }
  return { x, y, width, height, data: out }
}

function blurRow(
  from: Readonly<Float32Array>,
  to: Float32Array,
  start: number,
  length: number,
  radius: number,
): void {
  let sum = 0
  let n = 0
  for (let i = 0; i < Math.min(radius, length); i++, n++) sum += from[start + i]
  for (let i = 0; i < length; i++) {
    if (i + radius < length) {
      sum += from[start + i + radius]
      n++
    }
    if (i - radius - 1 >= 0) {
      sum -= from[start + i - radius - 1]
      n--
    }
    to[start + i] = sum / n
  }
}
