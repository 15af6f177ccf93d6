// Before a plain sky the camera is followed by whoever walks through, and lost when they have gone: that most frames are lost
// tells of a camera that moved away only where what they show has changed.
import { HELD_SIGMA } from '../match/align.js'
import { VALID } from '../match/log-luminance.js'
import { medianAndSigma } from '../match/selection.js'
import { evenly, indicesOf } from '../match/subsample.js'
import type { Rect } from '../raster/rect.js'
import type { TrackedFrame } from '../track/frame-tracker.js'
import type { Steps } from '../turns.js'

/** Nothing is doubted as long as this share of the frames is where it is known to belong. */
const MIN_FOLLOWED = 0.5
/** Of those that are lost so many must look as the first does, where they lie. */
const MIN_AT_REST = 0.5
/** Times the grain of both: what the light does to a sky meanwhile is no other place. */
const MAX_APART = 2
/** Coded footage differs by this much from itself, stops, however little grain it shows. */
const MIN_APART = 0.01
/** Pixels of the surround that are looked at. */
const MAX_PIXELS = 2000

/**
 * Are most frames lost although they differ from the reference frame by hardly more than grain, unmoved as they are?
 *
 * @param light    log2 luminance of the reference frame over the window
 * @param grain    its noise, stops; null: unknown
 * @param surround 1 on the surround, over the window
 */
export function* isLostAtRest(
  seen: readonly TrackedFrame[],
  { light, grain }: { readonly light: Readonly<Float32Array>; readonly grain: number | null },
  window: Rect,
  surround: Readonly<Float32Array>,
): Steps<boolean, never> {
  const lost = seen.filter(({ pose }) => !pose.still && !(pose.sigma <= HELD_SIGMA))
  if (seen.length - lost.length >= MIN_FOLLOWED * seen.length) return false
  const places = evenly(indicesOf(surround), MAX_PIXELS)
  let atRest = 0
  for (const frame of lost) {
    yield
    const apart = apartOn(frame, light, window, places)
    const usual = Math.hypot(grain ?? 0, frame.noise ?? 0)
    if (apart !== null && apart <= MAX_APART * Math.max(MIN_APART, usual)) atRest++
  }
  return atRest >= MIN_AT_REST * lost.length
}

/** Sigma of what a frame differs by, whatever its light, stops; null where less than half of it can be seen. */
function apartOn(
  { seen: { log, validity } }: TrackedFrame,
  light: Readonly<Float32Array>,
  window: Rect,
  places: Readonly<Int32Array>,
): number | null {
  const differences = new Float32Array(places.length)
  let n = 0
  for (const i of places) {
    const y = Math.floor(i / window.w)
    const at = (window.y + y - log.y) * log.width + window.x + (i - y * window.w) - log.x
    if (validity[at] === VALID) differences[n++] = light[i] - log.data[at]
  }
  return n > 0 && n >= places.length / 2 ? medianAndSigma(differences, n).sigma : null
}
