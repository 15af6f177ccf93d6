// Smoothing and halving of planes, for coarse-to-fine search. Each writes into a new plane, or into samples that are
// given, at least as many as it makes.
import type { Scratch } from './scratch.js'
import type { Plane } from './shift.js'

/** [1 4 6 4 1] / 16 both ways: the usual binomial low pass, sigma 1 px. Edge samples are repeated. */
export function smooth(
  source: Plane,
  out: Float32Array = new Float32Array(source.data.length),
  scratch?: Scratch,
): Plane {
  const { x, y, width, height, data } = source
  const across = scratch?.take('smooth', data.length) ?? new Float32Array(data.length)
  const last = width - 1
  for (let y = 0; y < height; y++) {
    const row = y * width
    // The row's samples slide through five registers; beyond its ends they repeat.
    let a = data[row]
    let b = a
    let c = a
    let d = data[row + Math.min(1, last)]
    for (let x = 0; x < width; x++) {
      const e = data[row + Math.min(x + 2, last)]
      across[row + x] = (a + e + 4 * (b + d) + 6 * c) / 16
      a = b
      b = c
      c = d
      d = e
    }
  }
  for (let y = 0; y < height; y++) {
    const a = Math.max(0, y - 2) * width
    const b = Math.max(0, y - 1) * width
    const row = y * width
    const c = Math.min(height - 1, y + 1) * width
    const d = Math.min(height - 1, y + 2) * width
    for (let x = 0; x < width; x++) {
      out[row + x] =
        (across[a + x] + across[d + x] + 4 * (across[b + x] + across[c + x]) + 6 * across[row + x]) / 16
    }
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
  const width = source.width >> 1
  const height = source.height >> 1
  const { data } = source
  for (let y = 0, i = 0; y < height; y++) {
    let a = 2 * y * source.width
    let b = a + source.width
    for (let x = 0; x < width; x++, i++, a += 2, b += 2) {
      out[i] = (data[a] + data[a + 1] + data[b] + data[b + 1]) / 4
    }
  }
  return { x: source.x >> 1, y: source.y >> 1, width, height, data: out }
}

/** Mean over a square of 2 * radius + 1 pixels, by running sums; at the edges over what of it lies inside. */
export function boxBlur(
  source: Plane,
  radius: number,
  out: Float32Array = new Float32Array(source.data.length),
  scratch?: Scratch,
): Plane {
  const { x, y, width, height, data } = source
  const across = scratch?.take('box', data.length) ?? new Float32Array(data.length)
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
