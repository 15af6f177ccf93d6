// The sensor and the file: noise that grows with the light, then the sRGB curve in 16 bits.
import { mix } from './noise.js'

/**
 * Noise variance per channel in linear light (1 = white): `perLight` times the signal (photons arrive at random) plus
 * `floor` (reading them out). Red and blue are amplified more than green, as white balance does. The size is that of a
 * camera at a middling sensitivity: about 1.6 eight-bit levels on the white wall.
 */
export const NOISE = {
  perLight: [2.3e-4, 1.7e-4, 2.8e-4],
  floor: [3.2e-6, 2.2e-6, 4.4e-6],
} as const

const TABLE_BITS = 14
const TABLE = 1 << TABLE_BITS
const CURVE_STEPS = 8192

let bellTable: Float32Array | undefined
let curve: Float32Array | undefined

/**
 * One exposed frame: noise added, clipped to 0 to 1, encoded (IEC 61966-2-1) into 16 bits.
 *
 * @param linear   RGB, interleaved, linear light
 * @param seed     of this frame's noise
 * @param out      as long as `linear`
 */
export function expose(linear: Float32Array, seed: number, out: Uint16Array): void {
  bellTable ??= standardBell()
  curve ??= srgbCurve()
  const bell = bellTable
  const code = curve
  let state = mix(seed) || 1
  for (let i = 0, channel = 0; i < linear.length; i++) {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    const signal = linear[i]
    const sigma = Math.sqrt(NOISE.perLight[channel] * Math.max(0, signal) + NOISE.floor[channel])
    const noisy = signal + sigma * bell[state >>> (32 - TABLE_BITS)]
    const at = Math.max(0, Math.min(1, noisy)) * CURVE_STEPS
    const step = at | 0
    out[i] = code[step] + (code[step + 1] - code[step]) * (at - step) + 0.5
    channel = channel === 2 ? 0 : channel + 1
  }
}

/** Samples of the normal distribution at evenly spaced probabilities, scaled to a variance of exactly 1. */
function standardBell(): Float32Array {
  const table = new Float32Array(TABLE)
  let square = 0
  for (let k = 0; k < TABLE; k++) {
    table[k] = normalQuantile((k + 0.5) / TABLE)
    square += table[k] * table[k]
  }
  const scale = Math.sqrt(TABLE / square)
  for (let k = 0; k < TABLE; k++) table[k] *= scale
  return table
}

/** The value below which a share p of a standard normal distribution lies: Newton's steps on its distribution function. */
function normalQuantile(p: number): number {
  if (p > 0.5) return -normalQuantile(1 - p)
  let x = -1
  for (let k = 0; k < 60; k++) {
    const step = (normalShare(x) - p) / (Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI))
    x -= Math.max(-0.5, Math.min(0.5, step))
    if (Math.abs(step) < 1e-12) break
  }
  return x
}

/** Share of a standard normal distribution below x <= 0: its Taylor series round 0 (Abramowitz & Stegun 26.2.10). */
function normalShare(x: number): number {
  let term = x
  let sum = x
  for (let n = 1; n < 200 && Math.abs(term) > 1e-18; n++) {
    term *= (-x * x * (2 * n - 1)) / (2 * n * (2 * n + 1))
    sum += term
  }
  return 0.5 + sum / Math.sqrt(2 * Math.PI)
}

/** Code values over linear light. Straight lines between steps stay within 1 of 65,535 above the curve's own straight part. */
function srgbCurve(): Float32Array {
  const table = new Float32Array(CURVE_STEPS + 2)
  for (let k = 0; k < table.length; k++) {
    const v = Math.min(1, k / CURVE_STEPS)
    table[k] = 65535 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)
  }
  return table
}
