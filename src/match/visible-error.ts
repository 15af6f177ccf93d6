// What a difference of light is worth on a display: a stop in the shadows is fewer code values than a stop in the lights,
// and errors are told as an eye meets them.
import { encode } from '../colour/transfer.js'

/** Half of the step over which the slope is taken, stops. */
const HALF_STEP = 0.02

/**
 * Code values (0 to 1, IEC 61966-2-1) per stop at a log2 luminance; at white and above as at white.
 *
 * The derivative of the display's encoding by log2 of light, as a difference quotient.
 */
export function displaySlope(log2Level: number): number {
  const level = Math.min(0, log2Level)
  const [low, high] = [encode(2 ** (level - HALF_STEP), 'srgb'), encode(2 ** (level + HALF_STEP), 'srgb')]
  return (high - low) / (2 * HALF_STEP)
}

/** Peak signal-to-noise ratio of a mean square error in display code values, dB; nothing is told better than 99 dB. */
export function decibelsOf(meanSquare: number): number {
  return Math.min(MAX_DB, -10 * Math.log10(Math.max(meanSquare, 1e-12)))
}

const MAX_DB = 99
