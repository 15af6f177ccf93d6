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
export const OTHER_CODE = 0.025

/**
 * Share of the region in which a frame shows a picture, 0 to 1.
 *
 * @param level  stops, on the pixels that the view compares
 * @param worth  its display slopes, 0 where they were not asked for yet, where many frames are held against it: powers cost as
 *   much as all the rest
 * @param change per pixel how far it may lie from the picture by itself, stops
 */
export function shareOf(
  view: RegionView,
  frame: number,
  level: Readonly<Float32Array>,
  worth?: Float64Array,
  change?: Readonly<Float32Array>,
): number {
  return within(view, view.samplesOf(frame), level, worth, change)
}

/** The same of a picture. */
export function sameShare(
  view: RegionView,
  picture: Readonly<Float32Array>,
  level: Readonly<Float32Array>,
): number {
  const validity = new Uint8Array(picture.length).fill(1)
  return within(view, { aligned: picture, validity, exposure: 0 }, level)
}

/** Is a picture of another state than another one? */
export function isOtherState(
  view: RegionView,
  picture: Readonly<Float32Array>,
  level: Readonly<Float32Array>,
): boolean {
  return sameShare(view, picture, level) < 1 - APART_SHARE
}

/** From here on, stops, it is another thing, if it shows: in the shadows a stop is next to nothing, and codecs leave little of it. */
export function otherStops(grain: number): number {
  return OTHER_SIGMA * grain + VISIBLE_STOPS
}

function within(
  { list, grain }: RegionView,
  { aligned, validity, exposure }: AlignedSample,
  level: Readonly<Float32Array>,
  worth?: Float64Array,
  change?: Readonly<Float32Array>,
): number {
  let same = 0
  let all = 0
  for (let k = 0; k < level.length; k++) {
    const weight = list.ownWeight[k]
    all += weight
    const off = Math.abs(aligned[k] + exposure - level[k])
    const far = off > Math.max(change?.[k] ?? 0, otherStops(grain[k]))
    const shows = far && off * slopeAt(level, k, worth) > OTHER_CODE
    if (validity[k] === VALID && !shows) same += weight
  }
  return all > 0 ? same / all : 0
}

/** @param worth where the slopes are kept that were asked for, 0 of the others */
function slopeAt(level: Readonly<Float32Array>, k: number, worth?: Float64Array): number {
  if (worth === undefined) return displaySlope(level[k])
  if (worth[k] === 0) worth[k] = displaySlope(level[k])
  return worth[k]
}
