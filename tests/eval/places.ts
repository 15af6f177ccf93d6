// Where the scenery of a planted plate lies in each of its frames, as the matrices that planted it have it.
import type { Rect } from '../../src/raster/rect.js'
import { apply, compose, IDENTITY, invert, shift, type Transform } from '../../src/raster/transform.js'
import type { Case } from './case.js'
import { middleOf } from './case.js'
import { inRegion, regionPixels } from './region.js'

/** True of a camera that moves, whose region sticks to the scenery; else the region stands still in the frame. */
export const rides = ({ motion }: Case): boolean => motion[0].pose !== undefined

/** Takes a pixel of the footage to its place in the planted frame. */
export function poseOf({ crop, frames, motion }: Case, frame: number): Transform {
  const { pose, dx, dy } = motion[frames.indexOf(frame)]
  return pose ?? shift(dx - crop.x, dy - crop.y)
}

/** Takes a pixel of the planted donor frame to its place on the planted target frame. */
export function between(planted: Case, donor: number, target: number): Transform {
  return compose(poseOf(planted, target), invert(poseOf(planted, donor)))
}

/** The region on one frame. */
export interface Placed {
  /** Round all of it. */
  readonly box: Rect
  /** Its pixels' offsets into the frame. */
  readonly pixels: Int32Array
}

/**
 * @param narrower pixels by which the region's outline is drawn in
 */
export function regionOn(planted: Case, frame: number, narrower = 0): Placed {
  const { box, crop } = planted
  const middle = middleOf(planted.window)
  const stands = !rides(planted) || frame === middle
  if (stands && narrower === 0) return { box, pixels: regionPixels(box, crop.w) }
  const drawn = {
    x: box.x + narrower,
    y: box.y + narrower,
    w: box.w - 2 * narrower,
    h: box.h - 2 * narrower,
  }
  const back = stands ? IDENTITY : between(planted, frame, middle)
  const round = boxOn(planted, frame)
  const pixels: number[] = []
  for (let y = round.y; y < round.y + round.h; y++) {
    for (let x = round.x; x < round.x + round.w; x++) {
      if (x < 0 || y < 0 || x >= crop.w || y >= crop.h) continue
      const at = apply(back, x, y)
      if (inRegion(drawn, at.x - drawn.x, at.y - drawn.y)) pixels.push(y * crop.w + x)
    }
  }
  return { box: round, pixels: Int32Array.from(pixels) }
}

/** Is all of the region in the frame, and this far from its edges? */
export function sees(planted: Case, frame: number, inset = 0): boolean {
  const { x, y, w, h } = boxOn(planted, frame)
  const { crop } = planted
  return x >= inset && y >= inset && x + w <= crop.w - inset && y + h <= crop.h - inset
}

/** The region's box where the frame has it, rounded outwards. */
function boxOn(planted: Case, frame: number): Rect {
  const { box, window } = planted
  if (!rides(planted) || frame === middleOf(window)) return box
  const to = between(planted, middleOf(window), frame)
  const corners = [box.x, box.x + box.w - 1].flatMap((x) =>
    [box.y, box.y + box.h - 1].map((y) => apply(to, x, y)),
  )
  const [xs, ys] = [corners.map((c) => c.x), corners.map((c) => c.y)]
  const [x, y] = [Math.floor(Math.min(...xs)), Math.floor(Math.min(...ys))]
  return { x, y, w: Math.ceil(Math.max(...xs)) + 1 - x, h: Math.ceil(Math.max(...ys)) + 1 - y }
}

/** RMS distance, pixels, between where two transforms put what lies in the region's pixels of a target frame. */
export function placeError(found: Transform, truth: Transform, pixels: Int32Array, width: number): number {
  const both = compose(found, invert(truth))
  let sum = 0
  for (const i of pixels) {
    const [x, y] = [i % width, Math.floor(i / width)]
    const at = apply(both, x, y)
    sum += (at.x - x) ** 2 + (at.y - y) ** 2
  }
  return Math.sqrt(sum / pixels.length)
}
