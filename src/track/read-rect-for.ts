// What of a frame must be read to see a part of the common grid.
import type { Plate } from '../footage/plate.js'
import { intersect, isEmpty, type Rect } from '../raster/rect.js'
import { sourceRect } from '../raster/resample.js'
import type { Transform } from '../raster/transform.js'

/** Rectangles begin and end on multiples of this, so that neighbours in time share one. */
const READ_STEP = 64
/** Pixels either side that the filter reads. */
const FILTER_PX = 2

/**
 * A rectangle of a plate's frame that shows a rectangle of the grid, as far as the frame does; of a frame that shows none
 * of it the nearest pixel.
 *
 * @param pose takes the frame's pixels to the grid
 * @param room pixels more on every side
 */
export function readRectFor(plate: Plate, pose: Transform, grid: Rect, room: number): Rect {
  const wanted = intersect(sourceRect(grid, pose, FILTER_PX + room), plate.active)
  if (isEmpty(wanted)) return { x: plate.active.x, y: plate.active.y, w: 1, h: 1 }
  const [left, top] = [
    Math.floor(wanted.x / READ_STEP) * READ_STEP,
    Math.floor(wanted.y / READ_STEP) * READ_STEP,
  ]
  const w = Math.ceil((wanted.x + wanted.w - left) / READ_STEP) * READ_STEP
  const h = Math.ceil((wanted.y + wanted.h - top) / READ_STEP) * READ_STEP
  return intersect({ x: left, y: top, w, h }, plate.active)
}
