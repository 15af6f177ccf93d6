// The region that is planted: a superellipse that nearly fills its box, as a roto shape round a walker would.
import type { Rect } from '../../src/raster/rect.js'

export const REGION_WIDTH = 64
export const REGION_HEIGHT = 48
/** |x|^4 + |y|^4 = 1 fills 93 % of the box. */
const ROUNDNESS = 4

/** Is the centre of the box's pixel (x, y), counted from its corner, inside the region? */
export function inRegion(box: Rect, x: number, y: number): boolean {
  const u = (x + 0.5) / (box.w / 2) - 1
  const v = (y + 0.5) / (box.h / 2) - 1
  return Math.abs(u) ** ROUNDNESS + Math.abs(v) ** ROUNDNESS <= 1
}

/** Offsets into a picture `width` pixels wide of the region's pixels, its box at (box.x, box.y). */
export function regionPixels(box: Rect, width: number): Int32Array {
  const out: number[] = []
  for (let y = 0; y < box.h; y++) {
    for (let x = 0; x < box.w; x++) if (inRegion(box, x, y)) out.push((box.y + y) * width + box.x + x)
  }
  return Int32Array.from(out)
}
