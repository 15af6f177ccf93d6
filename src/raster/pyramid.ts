// Smoothing and halving of planes, for coarse-to-fine search.
import { type Plane, plane } from './shift.js'

/** [1 4 6 4 1] / 16 both ways: the usual binomial low pass, sigma 1 px. Edge samples are repeated. */
export function smooth(source: Plane): Plane {
  const { width, height, data } = source
  const across = new Float32Array(width * height)
  const out = plane(source.x, source.y, width, height)
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
  const result = out.data
  for (let y = 0; y < height; y++) {
    const a = Math.max(0, y - 2) * width
    const b = Math.max(0, y - 1) * width
    const row = y * width
    const c = Math.min(height - 1, y + 1) * width
    const d = Math.min(height - 1, y + 2) * width
    for (let x = 0; x < width; x++) {
      result[row + x] =
        (across[a + x] + across[d + x] + 4 * (across[b + x] + across[c + x]) + 6 * across[row + x]) / 16
    }
  }
  return out
}

/**
 * Half the size by averaging 2 x 2 pixels; an odd last row or column is left out. The corner keeps its plate position
 * in half-size pixels, so it must be even for two planes to be comparable: see `evenCorner`.
 */
export function halve(source: Plane): Plane {
  const width = source.width >> 1
  const height = source.height >> 1
  const out = plane(source.x >> 1, source.y >> 1, width, height)
  const { data } = source
  for (let y = 0, i = 0; y < height; y++) {
    let a = 2 * y * source.width
    let b = a + source.width
    for (let x = 0; x < width; x++, i++, a += 2, b += 2) {
      out.data[i] = (data[a] + data[a + 1] + data[b] + data[b + 1]) / 4
    }
  }
  return out
}

/** Mean over a square of 2 * radius + 1 pixels, by running sums; at the edges over what of it lies inside. */
export function boxBlur(source: Plane, radius: number): Plane {
  const { width, height, data } = source
  const across = new Float32Array(data.length)
  const out = plane(source.x, source.y, width, height)
  for (let y = 0; y < height; y++) runningMean(data, across, y * width, 1, width, radius)
  for (let x = 0; x < width; x++) runningMean(across, out.data, x, width, height, radius)
  return out
}

function runningMean(
  from: Readonly<Float32Array>,
  to: Float32Array,
  start: number,
  step: number,
  length: number,
  radius: number,
): void {
  let sum = 0
  let n = 0
  for (let i = 0; i < Math.min(radius, length); i++, n++) sum += from[start + i * step]
  for (let i = 0; i < length; i++) {
    if (i + radius < length) {
      sum += from[start + (i + radius) * step]
      n++
    }
    if (i - radius - 1 >= 0) {
      sum -= from[start + (i - radius - 1) * step]
      n--
    }
    to[start + i * step] = sum / n
  }
}
