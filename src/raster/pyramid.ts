// The mean of each pixel's neighbourhood.
import type { Plane } from './plane.js'

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
