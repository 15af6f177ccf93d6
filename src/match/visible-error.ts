// What a difference of light is worth on a display: a stop in the shadows is fewer code values than a stop in the lights,
// and errors are told as an eye meets them.

/** IEC 61966-2-1: a power of 1 / 2.4 above this light, a straight line below. */
const LINEAR_TO = 0.0031308

/**
 * Code values (0 to 1) per stop at a log2 luminance; at white and above as at white.
 *
 * The derivative of IEC 61966-2-1 by log2 of light.
 */
export function displaySlope(log2Level: number): number {
  const light = 2 ** Math.min(0, log2Level)
  return Math.LN2 * (light > LINEAR_TO ? (1.055 / 2.4) * light ** (1 / 2.4) : 12.92 * light)
}

/** Peak signal-to-noise ratio of a mean square error in display code values, dB; nothing is told better than 99 dB. */
export function decibelsOf(meanSquare: number): number {
  return Math.min(MAX_DB, -10 * Math.log10(Math.max(meanSquare, 1e-12)))
}

const MAX_DB = 99
