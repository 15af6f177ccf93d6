// A donor's rectangle moved onto the target, in linear light: the pixels that are lent.

import { resample } from '../kernels/resample.js'
import type { Workspace } from '../kernels/workspace.js'
import { LANCZOS3 } from '../raster/filters.js'
import { type Frame, frame } from '../raster/frame.js'
import { plane } from '../raster/plane.js'
import { intersect, type Rect } from '../raster/rect.js'
import { moveMarks, sourceRect } from '../raster/resample.js'
import { isWhole, type Transform } from '../raster/transform.js'
import { dilate } from '../region/region.js'

export interface Lent {
  /** Linear RGB over the window, laid on the target, light not matched. */
  readonly picture: Frame
  /** 1 where the pixel can be lent; 0 where the donor has a hole (not finite, or outside its frame) within the filter. */
  readonly there: Uint8Array
}

/** The part of a donor frame that lending over `window` reads. @param onTarget lays the donor on the target */
export function donorRect(window: Rect, onTarget: Transform, full: Rect): Rect {
  const rect = intersect(sourceRect(window, onTarget, LANCZOS3.radius), full)
  // A donor moved right out of the frame lends nothing, but something must be read.
  return rect.w > 0 && rect.h > 0 ? rect : { x: full.x, y: full.y, w: 1, h: 1 }
}

/**
 * @param source linear RGB of `rect` (from `donorRect`)
 * @param window what is wanted, plate pixels
 * @param onTarget lays the donor on the target
 */
export function lend(
  workspace: Workspace,
  source: Frame,
  rect: Rect,
  window: Rect,
  onTarget: Transform,
): Lent {
  const pixels = rect.w * rect.h
  const picture = frame(window.h, window.w, 3)
  const there = new Uint8Array(window.w * window.h)
  const holes = new Uint8Array(pixels)
  for (let i = 0; i < pixels; i++) {
    const j = 3 * i
    const sum = source.data[j] + source.data[j + 1] + source.data[j + 2]
    holes[i] = sum - sum === 0 ? 0 : 1
  }
  const channel = plane(rect.x, rect.y, rect.w, rect.h)
  const moved = plane(window.x, window.y, window.w, window.h)
  for (let c = 0; c < 3; c++) {
    let last = 0
    for (let i = 0; i < pixels; i++) {
      // Holes show their neighbour to the filter, so that nothing not finite spreads.
      if (holes[i] === 0) last = source.data[3 * i + c]
      channel.data[i] = last
    }
    resample(workspace, channel, onTarget, moved, LANCZOS3)
    for (let i = 0; i < there.length; i++) picture.data[3 * i + c] = moved.data[i]
  }
  const around =
    isWhole(onTarget) || !holes.includes(1) ? holes : dilate(holes, rect.w, rect.h, LANCZOS3.radius)
  moveMarks({ rect, data: around.map((hole) => 1 - hole) }, onTarget, { rect: window, data: there })
  return { picture, there }
}
