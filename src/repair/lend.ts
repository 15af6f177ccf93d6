// A donor's rectangle moved onto the target, in linear light: the pixels that are lent.

import { resample } from '../kernels/resample.js'
import type { Workspace } from '../kernels/workspace.js'
import { LANCZOS3 } from '../raster/filters.js'
import { type Frame, frame } from '../raster/frame.js'
import { plane } from '../raster/plane.js'
import { grow, intersect, type Rect } from '../raster/rect.js'
import { shift } from '../raster/transform.js'

export interface Lent {
  /** Linear RGB over the window, moved by (dx, dy), light not matched. */
  readonly picture: Frame
  /** 1 where the pixel can be lent; 0 where the donor has a hole (not finite, or outside its frame) within the filter. */
  readonly there: Uint8Array
}

/** The part of a donor frame that lending over `window` reads. */
export function donorRect(window: Rect, dx: number, dy: number, full: Rect): Rect {
  const shifted = { ...window, x: window.x - Math.round(dx), y: window.y - Math.round(dy) }
  const rect = intersect(grow(shifted, LANCZOS3.radius + 1), full)
  // A donor moved right out of the frame lends nothing, but something must be read.
  return rect.w > 0 && rect.h > 0 ? rect : { x: full.x, y: full.y, w: 1, h: 1 }
}

/**
 * @param source linear RGB of `rect` (from `donorRect`)
 * @param window what is wanted, plate pixels
 */
export function lend(
  workspace: Workspace,
  source: Frame,
  rect: Rect,
  window: Rect,
  dx: number,
  dy: number,
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
    resample(workspace, channel, shift(dx, dy), moved, LANCZOS3)
    for (let i = 0; i < there.length; i++) picture.data[3 * i + c] = moved.data[i]
  }
  markThere(holes, rect, window, dx, dy, there)
  return { picture, there }
}

function markThere(
  holes: Readonly<Uint8Array>,
  rect: Rect,
  window: Rect,
  dx: number,
  dy: number,
  there: Uint8Array,
): void {
  const whole = Number.isInteger(dx) && Number.isInteger(dy)
  const radius = whole ? 0 : LANCZOS3.radius
  const any = holes.includes(1)
  const left = window.x - rect.x - Math.round(dx)
  const top = window.y - rect.y - Math.round(dy)
  for (let y = 0, i = 0; y < window.h; y++) {
    for (let x = 0; x < window.w; x++, i++) {
      const sx = x + left
      const sy = y + top
      if (sx < 0 || sy < 0 || sx >= rect.w || sy >= rect.h) continue
      there[i] = any && holeNear(holes, rect, sx, sy, radius) ? 0 : 1
    }
  }
}

function holeNear(holes: Readonly<Uint8Array>, rect: Rect, x: number, y: number, radius: number): boolean {
  for (let v = Math.max(0, y - radius); v <= Math.min(rect.h - 1, y + radius); v++) {
    for (let u = Math.max(0, x - radius); u <= Math.min(rect.w - 1, x + radius); u++) {
      if (holes[v * rect.w + u] === 1) return true
    }
  }
  return false
}
