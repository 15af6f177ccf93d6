// A donor's rectangle moved onto the target, in linear light: the pixels that are lent.

import type { Room } from '../footage/plate.js'
import { markHoles } from '../kernels/channels.js'
import { keepWithin } from '../kernels/overshoot.js'
import { resampleRgb } from '../kernels/resample.js'
import type { Workspace } from '../kernels/workspace.js'
import { LANCZOS3 } from '../raster/filters.js'
import { mostStretch } from '../raster/footprint.js'
import { type Frame, frame } from '../raster/frame.js'
import { hasByte } from '../raster/has-byte.js'
import { intersect, isSameRect, type Rect } from '../raster/rect.js'
import { moveMarks, sourceRect } from '../raster/resample.js'
import { invert, isWhole, type Transform } from '../raster/transform.js'
import { dilate } from '../region/region.js'

export interface Lent {
  /** Linear RGB over the window, laid on the target, light not matched. */
  readonly picture: Frame
  /** 1 where the pixel can be lent; 0 where the donor has a hole (not finite, or outside its frame) within the filter. */
  readonly there: Uint8Array
}

/** Is there a pixel that nobody lends? */
export function hasHoles(there: Readonly<Uint8Array>): boolean {
  return hasByte(there, 0)
}

/**
 * The part of a donor frame that lending over `window` reads: of one that lies whole pixels away those very pixels, else what
 * the filter reaches, too.
 *
 * @param onTarget lays the donor on the target
 */
export function donorRect(window: Rect, onTarget: Transform, full: Rect): Rect {
  const rect = intersect(
    isWhole(onTarget) ? movedBack(window, onTarget) : sourceRect(window, onTarget, LANCZOS3.radius),
    full,
  )
  // A donor moved right out of the frame lends nothing, but something must be read.
  return rect.w > 0 && rect.h > 0 ? rect : { x: full.x, y: full.y, w: 1, h: 1 }
}

/** @param onTarget a shift by whole pixels */
function movedBack(window: Rect, onTarget: Transform): Rect {
  return { ...window, x: window.x - onTarget[2], y: window.y - onTarget[5] }
}

/**
 * A donor that a camera that stands lays as it was shot, with its own picture.
 *
 * @param source as `lend` has it @returns null where it must be moved by parts of a pixel, has holes, or does not cover the window
 */
export function lendAsShot(
  workspace: Workspace,
  source: Frame,
  rect: Rect,
  window: Rect,
  onTarget: Transform,
): Lent | null {
  if (!isWhole(onTarget) || !isSameRect(rect, movedBack(window, onTarget))) return null
  const there = new Uint8Array(rect.w * rect.h)
  return markHoles(workspace, source.data, there) > 0 ? null : { picture: source, there: there.fill(1) }
}

/**
 * @param source linear RGB of `rect` (from `donorRect`)
 * @param window what is wanted, plate pixels
 * @param onTarget lays the donor on the target
 * @param room     lends the picture's samples; default: its own
 */
export function lend(
  workspace: Workspace,
  source: Frame,
  rect: Rect,
  window: Rect,
  onTarget: Transform,
  room?: Room,
): Lent {
  const picture = frame(window.h, window.w, 3, room?.floats(3 * window.w * window.h))
  const holes = new Uint8Array(rect.w * rect.h)
  const hasHoles = workspace.within((scratch) => {
    const rgb = scratch.laid(source.data)
    const hasHoles = markHoles(workspace, rgb, holes) > 0
    // Holes show their neighbour to the filter, so that nothing not finite spreads.
    const data = hasHoles ? holesFilled(source.data, holes) : rgb
    const moved = { rect: window, data: picture.data }
    resampleRgb(workspace, { rect, data }, onTarget, moved, LANCZOS3)
    if (!isWhole(onTarget)) keepWithin(workspace, { rect, data }, onTarget, moved, lobeOf(onTarget, window))
    return hasHoles
  })
  const there = new Uint8Array(window.w * window.h)
  if (!hasHoles && isCovered(window, onTarget, rect)) return { picture, there: there.fill(1) }
  const around =
    isWhole(onTarget) || !hasHoles ? holes : dilate(holes, rect.w, rect.h, reachOf(onTarget, window))
  for (let i = 0; i < around.length; i++) around[i] = 1 - around[i]
  moveMarks({ rect, data: around }, onTarget, { rect: window, data: there })
  return { picture, there }
}

/** Whether all of the window is well inside what a donor's rectangle is moved to: where its corners are, all is. */
function isCovered({ x, y, w, h }: Rect, onTarget: Transform, rect: Rect): boolean {
  const [xx, xy, x1, yx, yy, y1, wx, wy, w1] = invert(onTarget)
  return [x, x + w - 1].every((px) =>
    [y, y + h - 1].every((py) => {
      const over = wx * px + wy * py + w1
      const [u, v] = [(xx * px + xy * py + x1) / over - rect.x, (yx * px + yy * py + y1) / over - rect.y]
      // Beyond the horizon nothing lies between corners.
      return over > 0 && u >= 1 && v >= 1 && u <= rect.w - 2 && v <= rect.h - 2
    }),
  )
}

/** How far the filter's first two lobes reach in the source, pixels: nearer by, grain's own peaks would be cut. */
function lobeOf(onTarget: Transform, window: Rect): number {
  return Math.ceil(mostStretch(window, onTarget) - 0.1) + 1
}

/** How far the filter reaches in the source, pixels. */
function reachOf(onTarget: Transform, window: Rect): number {
  return Math.ceil(LANCZOS3.radius * mostStretch(window, onTarget))
}

function holesFilled(data: Readonly<Float32Array>, holes: Readonly<Uint8Array>): Float32Array {
  const filled = data.slice()
  for (let i = 0; i < holes.length; i++)
    if (holes[i] === 1) for (let c = 3 * i; c < 3 * i + 3; c++) filled[c] = i === 0 ? 0 : filled[c - 3]
  return filled
}
