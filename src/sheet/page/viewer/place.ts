// Where a picture lies in its room: zoom, the point in the middle, and moving both. Pure arithmetic.

export interface Point {
  readonly x: number
  readonly y: number
}

export interface Size {
  readonly w: number
  readonly h: number
}

/** What is shown of the plate, in heights of the pictures' pixels: x to the right, y down, from the plate's corner. */
export interface Extent extends Point, Size {}

/** What the wheel and the keys step through: screen pixels per picture pixel. Whole ones from 1 on, so that all pixels are alike. */
export const ZOOMS = [1 / 8, 1 / 6, 1 / 4, 1 / 3, 1 / 2, 1, 2, 3, 4, 6, 8, 12, 16] as const

/** Of two zooms that differ by less than this share, one is not closer than the other: a fit is no round number. */
const ALIKE = 1e-6

/**
 * The zoom that fits an extent into a room, screen pixels per picture pixel. One that enlarges does so by whole screen
 * pixels, so that all are alike.
 *
 * @param room  CSS pixels
 * @param ratio screen pixels per CSS pixel
 */
export function fitting(extent: Size, room: Size, ratio: number): number {
  const fit = Math.min(room.w / extent.w, room.h / extent.h) * ratio
  return fit >= 1 ? Math.floor(fit) : fit
}

/**
 * The next zoom closer or further away. Past the fit on the way out it is 0, which fits: there is nothing to be seen beyond.
 *
 * @param zoom what is shown now; 0 where it fits
 * @param fit  the zoom that fits
 */
export function zoomStep(zoom: number, fit: number, by: 1 | -1): number {
  const now = zoom === 0 ? fit : zoom
  if (by > 0) return ZOOMS.find((each) => each > now * (1 + ALIKE)) ?? now
  const next = ZOOMS.findLast((each) => each < now * (1 - ALIKE))
  return next === undefined || next <= fit * (1 + ALIKE) ? 0 : next
}

/** The middle of an extent. */
export function middleOf({ x, y, w, h }: Extent): Point {
  return { x: x + w / 2, y: y + h / 2 }
}

/**
 * The point that must be in the middle of the room so that what lies under the pointer stays there when the zoom changes.
 *
 * @param pointer CSS pixels from the middle of the room
 * @param scales  CSS pixels per picture pixel, before and after
 */
export function zoomedAbout(pointer: Point, centre: Point, scales: { from: number; to: number }): Point {
  const share = 1 / scales.from - 1 / scales.to
  return { x: centre.x + pointer.x * share, y: centre.y + pointer.y * share }
}

/** A point that lies within the extent: the picture can't be pushed out of its room. */
export function within({ x, y, w, h }: Extent, point: Point): Point {
  return { x: Math.min(x + w, Math.max(x, point.x)), y: Math.min(y + h, Math.max(y, point.y)) }
}

/** Where the extent's corner lies in the room, CSS pixels, on whole screen pixels: between them a picture would be smoothed. */
export function cornerOf(
  extent: Extent,
  { centre, scale, room, ratio }: { centre: Point; scale: number; room: Size; ratio: number },
): Point {
  const whole = (css: number) => Math.round(css * ratio) / ratio
  return {
    x: whole(room.w / 2 - (centre.x - extent.x) * scale),
    y: whole(room.h / 2 - (centre.y - extent.y) * scale),
  }
}
