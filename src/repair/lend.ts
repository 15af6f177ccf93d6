// A donor's rectangle moved onto the target, in linear light: the pixels that are lent.

import { markHoles, putChannel, takeChannel } from '../kernels/channels.js'
import { resample } from '../kernels/resample.js'
import { warp } from '../kernels/warp.js'
import type { Workspace } from '../kernels/workspace.js'
import { LANCZOS3 } from '../raster/filters.js'
import { mostStretch } from '../raster/footprint.js'
import { type Frame, frame } from '../raster/frame.js'
import type { Plane } from '../raster/plane.js'
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
  const picture = frame(window.h, window.w, 3)
  const there = new Uint8Array(window.w * window.h)
  const holes = new Uint8Array(rect.w * rect.h)
  const hasHoles = workspace.within((scratch) => {
    const rgb = scratch.laid(source.data)
    const hasHoles = markHoles(workspace, rgb, holes) > 0
    // Holes show their neighbour to the filter, so that nothing not finite spreads.
    const filled = hasHoles ? holesFilled(source.data, holes) : rgb
    if (isShift(onTarget)) shiftChannels(workspace, filled, rect, onTarget, window, picture.data)
    else {
      const options = { channels: 3, filter: LANCZOS3, beyond: 'edge' } as const
      warp(workspace, { rect, data: filled }, onTarget, { rect: window, data: picture.data }, options)
    }
    return hasHoles
  })
  const around =
    isWhole(onTarget) || !hasHoles ? holes : dilate(holes, rect.w, rect.h, reachOf(onTarget, window))
  for (let i = 0; i < around.length; i++) around[i] = 1 - around[i]
  moveMarks({ rect, data: around }, onTarget, { rect: window, data: there })
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
  workspace.within((scratch) => {
    const rgb = scratch.laid(source)
    const moved = scratch.floats(out.length)
    const from = { ...planeOf(rect), data: scratch.floats(rect.w * rect.h) }
    const to = { ...planeOf(window), data: scratch.floats(window.w * window.h) }
    for (let c = 0; c < 3; c++) {
      takeChannel(workspace, rgb, c, from.data)
      resample(workspace, from, onTarget, to, LANCZOS3)
      putChannel(workspace, to.data, c, moved)
    }
    out.set(moved)
  })
}

function planeOf({ x, y, w, h }: Rect): Omit<Plane, 'data'> {
  return { x, y, width: w, height: h }
}
