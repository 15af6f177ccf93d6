// What happens on market day: a story of 64 story frames in which people pass the shutter without a break. Somebody is in
// front of it on every frame, another part of it each time: no frame is empty all over, every place is empty sometimes.
import type { Crowd } from './crowd.js'
import type { Look } from './figure.js'
import { drawPasser, LOOKS } from './passers.js'
import type { Stretch, Walk } from './story.js'
import type { LeftOut } from './truth.js'

const ALWAYS: Stretch = { from: Number.NEGATIVE_INFINITY, to: Number.POSITIVE_INFINITY }

/** The shopper is to be hidden here: nobody else comes near the mask meanwhile. */
export const MARKET_HIDE: Stretch = { from: 44, to: 51 }

/** From behind the kiosk, past the shutter, to the right. */
export const SHOPPER_WALK: Walk = { scale: 67, x: 760, at: 47.5, speed: 3.9, seen: ALWAYS }

interface Passer {
  readonly walk: Walk
  readonly look: Look
}

const LOOSE_SHIRT: Look = { ...LOOKS[0], tall: 1.79, coat: [0.34, 0.33, 0.3], sleeves: [0.34, 0.33, 0.3] }
const DARK_COAT: Look = { ...LOOKS[2], tall: 1.66, coat: [0.09, 0.1, 0.06], sleeves: [0.085, 0.095, 0.06] }
const RED_COAT: Look = { ...LOOKS[1], tall: 1.6, coat: [0.3, 0.06, 0.05], sleeves: [0.29, 0.058, 0.05] }

/** Who else is about, the furthest from the lens first. */
export const MARKET_PASSERS: readonly Passer[] = [
  // Ahead of the shopper, and behind.
  { walk: { scale: 66, x: 922, at: 44, speed: 4.2, seen: ALWAYS }, look: LOOKS[0] },
  { walk: { scale: 68, x: 590, at: 51, speed: 4.1, seen: ALWAYS }, look: LOOKS[2] },
  // Nearer to the lens, the other way: gone before the range, or not yet there.
  { walk: { scale: 74, x: 640, at: 12, speed: -4.1, seen: ALWAYS }, look: RED_COAT },
  { walk: { scale: 75, x: 588, at: 44, speed: -4.4, seen: ALWAYS }, look: LOOSE_SHIRT },
  { walk: { scale: 76, x: 926, at: 51, speed: -4.5, seen: ALWAYS }, look: DARK_COAT },
]

/** Everyone who is there at a time on market day. */
export function drawMarketPeople(crowd: Crowd, time: number, without: LeftOut): void {
  const passers = without.passers ? [] : MARKET_PASSERS
  const further = passers.filter(({ walk }) => walk.scale < SHOPPER_WALK.scale)
  for (const [k, { walk, look }] of further.entries()) drawPasser(crowd, walk, look, time, 0.3 * k)
  if (!without.shopper) drawPasser(crowd, SHOPPER_WALK, LOOKS[1], time, 0.15)
  const nearer = passers.slice(further.length)
  for (const [k, { walk, look }] of nearer.entries()) drawPasser(crowd, walk, look, time, 0.45 + 0.3 * k)
}
