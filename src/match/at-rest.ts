// What lies as it did: two pictures that differ, unmoved, by hardly more than the grain of both. Where there is no texture to
// correlate it is all that tells one place from another.
import type { Plane } from '../raster/plane.js'
import { type LogLuminance, VALID } from './log-luminance.js'
import { medianAndSigma } from './selection.js'

/** Times the grain of both: what the light does to a sky meanwhile is no other place. */
const MAX_APART = 2
/** Coded footage differs by this much from itself, stops, however little grain it shows. */
const MIN_APART = 0.01

/**
 * @param light  log2 luminance of a picture
 * @param places of it at which they are compared: half of them must be seen in the other
 * @param other  in the same pixels; it need not have all of the places
 * @param grain  noise of both, stops
 */
export function isAtRest(
  light: Plane,
  places: Readonly<Int32Array>,
  { log, validity }: LogLuminance,
  grain: number,
): boolean {
  const differences = new Float32Array(places.length)
  let n = 0
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    const row = Math.floor(i / light.width)
    const x = light.x + (i - row * light.width) - log.x
    const y = light.y + row - log.y
    if (x < 0 || y < 0 || x >= log.width || y >= log.height) continue
    const at = y * log.width + x
    if (validity[at] === VALID) differences[n++] = light.data[i] - log.data[at]
  }
  if (n === 0 || n < places.length / 2) return false
  return medianAndSigma(differences, n).sigma <= MAX_APART * Math.max(MIN_APART, grain)
}
