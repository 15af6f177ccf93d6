// Before a plain sky the camera is followed by whoever walks through, and lost when they have gone: that most frames are lost
// tells of a camera that moved away only where what they show has changed.
import { HELD_SIGMA } from '../match/align.js'
import { isAtRest } from '../match/at-rest.js'
import { evenly, indicesOf } from '../match/subsample.js'
import type { Rect } from '../raster/rect.js'
import type { TrackedFrame } from '../track/frame-tracker.js'
import type { Steps } from '../turns.js'

/** Nothing is doubted as long as this share of the frames is where it is known to belong. */
const MIN_FOLLOWED = 0.5
/** Of those that are lost so many must look as the first does, where they lie. */
const MIN_AT_REST = 0.5
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
  const reference = { x: window.x, y: window.y, width: window.w, height: window.h, data: light }
  for (const { seen: picture, noise } of lost) {
    yield
    if (isAtRest(reference, places, picture, Math.hypot(grain ?? 0, noise ?? 0))) atRest++
  }
  return atRest >= MIN_AT_REST * lost.length
}
