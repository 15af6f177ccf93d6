// The least difference that means anything. Held frames, or footage with next to no noise, agree with each other far more
// closely than that, and a seam counted in units of such agreement would show at hundreds of times "the grain".
import type { Encoding } from '../colour/encoding.js'
import { decode, encode } from '../colour/transfer.js'

/**
 * A step of light of half a per cent: about the least that an eye makes out under the best conditions. P. G. J. Barten,
 * Contrast Sensitivity of the Human Eye (SPIE 1999), from memory: the curve's peak lies near 0.4 to 0.5 per cent.
 */
export const EYE_LIMIT_STOPS = Math.log2(1.005)

/**
 * Standard deviation, in stops, below which pictures of one plate are not told apart: what rounding to whole codes makes
 * at a level (a step over the root of twelve: W. R. Bennett, Spectra of Quantized Signals, 1948), or what an eye sees,
 * whichever is more.
 *
 * @param log2Level log2 of linear light
 * @param bitDepth  as a plate has it: '8-bit', 'half' and so on
 */
export function minSpread(log2Level: number, bitDepth: string, encoding: Encoding): number {
  const bits = /^(\d+)-bit$/.exec(bitDepth)
  // Floating point carries ten bits and more of every stop: its steps are far below what an eye sees.
  if (bits === null) return EYE_LIMIT_STOPS
  const levels = 2 ** Number(bits[1]) - 1
  const code = Math.min(levels - 1, Math.max(1, Math.round(encode(2 ** log2Level, encoding) * levels)))
  const [low, high] = [decode(code / levels, encoding), decode((code + 1) / levels, encoding)]
  if (!(low > 0)) return EYE_LIMIT_STOPS
  return Math.max(EYE_LIMIT_STOPS, Math.log2(high / low) / Math.sqrt(12))
}
