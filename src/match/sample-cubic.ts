// One sample between the pixels of a picture, by the cubic that matching resamples with.

/**
 * Catmull-Rom (R. Keys, 1981, a = -0.5), as CUBIC.
 *
 * @param x from 1 to width - 2, excluded; y likewise
 */
export function sampleCubic(data: Readonly<Float32Array>, width: number, x: number, y: number): number {
  const left = Math.floor(x)
  const top = Math.floor(y)
  const t = x - left
  const s = y - top
  const a0 = ((-0.5 * t + 1) * t - 0.5) * t
  const a1 = (1.5 * t - 2.5) * t * t + 1
  const a2 = ((-1.5 * t + 2) * t + 0.5) * t
  const a3 = (0.5 * t - 0.5) * t * t
  const i = (top - 1) * width + left - 1
  const j = i + width
  const k = j + width
  const l = k + width
  return (
    ((-0.5 * s + 1) * s - 0.5) * s * (a0 * data[i] + a1 * data[i + 1] + a2 * data[i + 2] + a3 * data[i + 3]) +
    ((1.5 * s - 2.5) * s * s + 1) * (a0 * data[j] + a1 * data[j + 1] + a2 * data[j + 2] + a3 * data[j + 3]) +
    ((-1.5 * s + 2) * s + 0.5) * s * (a0 * data[k] + a1 * data[k + 1] + a2 * data[k + 2] + a3 * data[k + 3]) +
    (0.5 * s - 0.5) * s * s * (a0 * data[l] + a1 * data[l + 1] + a2 * data[l + 2] + a3 * data[l + 3])
  )
}
