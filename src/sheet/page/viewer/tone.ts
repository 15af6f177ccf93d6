// Exposure and gamma of the viewing, as a table from 8-bit sRGB to 8-bit sRGB.
import { decode, encode } from '../../../colour/transfer.js'

/**
 * @param exposureStops brighter or darker, in linear light
 * @param gamma         the display's; 1 leaves it alone, above 1 lifts the middle
 */
export function toneTable(exposureStops: number, gamma: number): Uint8ClampedArray {
  const gain = 2 ** exposureStops
  return Uint8ClampedArray.from(
    { length: 256 },
    (_, code) => 255 * encode(Math.min(1, gain * decode(code / 255, 'srgb')), 'srgb') ** (1 / gamma),
  )
}
