// Is one of two pictures blurred in one direction only, as by a camera that moves while the shutter is open?
import type { Sharper } from './compare.js'

/**
 * So much blur is named, square pixels as the fit has it, which is less than it is, since a tile's window smears the spectra: ways of
 * 4 to 6 pixels come out at 0.9 to 2, one lens on a plaza whose codec smooths now more, now less, at up to 0.9.
 */
const MIN_VARIANCE = 1
/** ... and across it at most this share of it: out of focus a picture is soft in all directions. */
const MAX_ACROSS = 1 / 3

/** @returns which of both is blurred in one direction, and the other is not; null: neither */
export function blurredOneWay({ xx, xy, yy }: Sharper): 'target' | 'donor' | null {
  const mean = (xx + yy) / 2
  const apart = Math.hypot((xx - yy) / 2, xy)
  const [most, least] = [mean + apart, mean - apart]
  if (most >= MIN_VARIANCE && Math.abs(least) <= MAX_ACROSS * most) return 'target'
  if (-least >= MIN_VARIANCE && Math.abs(most) <= MAX_ACROSS * -least) return 'donor'
  return null
}
