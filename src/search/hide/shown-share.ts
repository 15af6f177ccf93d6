// How much of the region shows a picture: a frame's, or another picture's.

import type { AlignedSample } from '../../match/clean-plate.js'
import { VALID } from '../../match/log-luminance.js'
import { VISIBLE_STOPS } from '../../match/thresholds.js'
import { displaySlope } from '../../match/visible-error.js'
import type { RegionView } from './region-view.js'

/** Where more of the region differs, it is another state; less is leaves, or a shadow's edge on its way. */
export const APART_SHARE = 0.08
/** A pixel this many spreads from a picture, and visibly so, shows something else. */
export const OTHER_SIGMA = 5
/** ... by more than this, of the display's code values: six of 255. */
const OTHER_CODE = 0.025

/**
 * A picture of the region that frames are held against, on the pixels that the view compares. What a stop is worth on a display
 * is told of each pixel when it is first asked for: powers cost as much as all the rest of a comparison.
 */
export class HeldPicture {
  readonly #slopes: Float64Array

  /** @param level log2 luminance; it must not change afterwards */
  constructor(readonly level: Readonly<Float32Array>) {
    this.#slopes = new Float64Array(level.length)
  }

  /** Does so much show at one of its pixels? @param stops how far a frame lies from it there */
  shows(stops: number, k: number): boolean {
    if (this.#slopes[k] === 0) this.#slopes[k] = displaySlope(this.level[k])
    return Math.abs(stops) * this.#slopes[k] > OTHER_CODE
  }

  /** Is it more than grain explains, too? @param grain a frame's own spread there, stops */
  differs(stops: number, k: number, grain: number): boolean {
    return Math.abs(stops) > otherStops(grain) && this.shows(stops, k)
  }
}

/**
 * Share of the region in which a frame shows a picture, 0 to 1.
 *
 * @param change per pixel how far it may lie from the picture by itself, stops
 */
export function shareOf(
  view: RegionView,
  frame: number,
  picture: HeldPicture,
  change?: Readonly<Float32Array>,
): number {
  return within(view, view.samplesOf(frame), picture, change)
}

/** The same of a picture. */
export function sameShare(
  view: RegionView,
  picture: Readonly<Float32Array>,
  other: Readonly<Float32Array>,
): number {
  const validity = new Uint8Array(picture.length).fill(VALID)
  return within(view, { aligned: picture, validity, exposure: 0 }, new HeldPicture(other))
}

/** Is a picture of another state than another one? */
export function isOtherState(
  view: RegionView,
  picture: Readonly<Float32Array>,
  other: Readonly<Float32Array>,
): boolean {
  return sameShare(view, picture, other) < 1 - APART_SHARE
}

/** From here on, stops, it is another thing, if it shows: in the shadows a stop is next to nothing, and codecs leave little of it. */
function otherStops(grain: number): number {
  return OTHER_SIGMA * grain + VISIBLE_STOPS
}

function within(
  { list, grain }: RegionView,
  { aligned, validity, exposure }: AlignedSample,
  picture: HeldPicture,
  change?: Readonly<Float32Array>,
): number {
  const { level } = picture
  let same = 0
  let all = 0
  for (let k = 0; k < level.length; k++) {
    const weight = list.ownWeight[k]
    all += weight
    if (validity[k] !== VALID) continue
    const off = Math.abs(aligned[k] + exposure - level[k])
    const isOther = off > (change?.[k] ?? 0) && picture.differs(off, k, grain[k])
    if (!isOther) same += weight
  }
  return all > 0 ? same / all : 0
}
