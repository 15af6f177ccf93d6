// Where a target frame's mask lies on the grid that all frames were moved onto.
import type { Rect } from '../../raster/rect.js'
import { shiftOf } from '../../raster/transform.js'
import type { Registered } from '../register.js'

/**
 * Every pixel of a target frame's mask that lies on a part of the common grid.
 *
 * @param inside the mask's weights, over the window
 * @param part   of the grid, in window coordinates
 * @param visit  hears each pixel's weight, and its index in the part
 */
export function eachInside(
  inside: Readonly<Float32Array>,
  target: Pick<Registered, 'pose'>,
  window: Rect,
  part: Rect,
  visit: (weight: number, k: number) => void,
): void {
  // On the grid it lies where the frame's pose puts it, to the nearest pixel.
  const { dx, dy } = shiftOf(target.pose, window)
  const right = Math.round(dx) - part.x
  const down = Math.round(dy) - part.y
  for (let y = 0, i = 0; y < window.h; y++)
    for (let x = 0; x < window.w; x++, i++) {
      if (!(inside[i] > 0)) continue
      const u = x + right
      const v = y + down
      if (u >= 0 && v >= 0 && u < part.w && v < part.h) visit(inside[i], v * part.w + u)
    }
}

/** 1 where a target's mask covers a pixel of the common grid. */
export function maskOnGrid(
  inside: Readonly<Float32Array>,
  target: Pick<Registered, 'pose'>,
  window: Rect,
): Uint8Array {
  const out = new Uint8Array(inside.length)
  eachInside(inside, target, window, { ...window, x: 0, y: 0 }, (_, k) => {
    out[k] = 1
  })
  return out
}
