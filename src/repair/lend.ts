// A donor's rectangle moved onto the target, in linear light: the pixels that are lent.

import { resample } from '../kernels/resample.js'
import { warp } from '../kernels/warp.js'
import type { Workspace } from '../kernels/workspace.js'
import { LANCZOS3 } from '../raster/filters.js'
import { mostStretch } from '../raster/footprint.js'
import { type Frame, frame } from '../raster/frame.js'
import { plane } from '../raster/plane.js'
import { intersect, type Rect } from '../raster/rect.js'
import { moveMarks, sourceRect } from '../raster/resample.js'
import { isShift, isWhole, type Transform } from '../raster/transform.js'
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
  // Holes show their neighbour to the filter, so that nothing not finite spreads.
  const filled = holes.includes(1) ? holesFilled(source.data, holes) : source.data
  if (isShift(onTarget)) shiftChannels(workspace, filled, rect, onTarget, window, picture.data)
  else {
    const options = { channels: 3, filter: LANCZOS3, beyond: 'edge' } as const
    warp(workspace, { rect, data: filled }, onTarget, { rect: window, data: picture.data }, options)
  }
  const around =
    isWhole(onTarget) || !holes.includes(1) ? holes : dilate(holes, rect.w, rect.h, reachOf(onTarget, window))
  moveMarks({ rect, data: around.map((hole) => 1 - hole) }, onTarget, { rect: window, data: there })
  return { picture, there }
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

/** Of a shift each channel by itself: all pixels have the same taps. */
function shiftChannels(
  workspace: Workspace,
  source: Readonly<Float32Array>,
  rect: Rect,
  onTarget: Transform,
  window: Rect,
  out: Float32Array,
): void {
  const channel = plane(rect.x, rect.y, rect.w, rect.h)
  const moved = plane(window.x, window.y, window.w, window.h)
  for (let c = 0; c < 3; c++) {
    for (let i = 0; i < channel.data.length; i++) channel.data[i] = source[3 * i + c]
    resample(workspace, channel, onTarget, moved, LANCZOS3)
    for (let i = 0; i < moved.data.length; i++) out[3 * i + c] = moved.data[i]
  }
}
