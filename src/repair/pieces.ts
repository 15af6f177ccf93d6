// A mosaic's map laid on a target frame: how much of every pixel each piece lends.

import { boxMean } from '../kernels/box.js'
import type { Workspace } from '../kernels/workspace.js'
import type { Rect } from '../raster/rect.js'
import { invert, type Placement } from '../raster/transform.js'
import { unpackPieces } from '../search/piece-map.js'
import type { PieceMap } from '../search/piece-map-schema.js'

/** Pieces run into each other over three pixels: enough to hide the last of a step in light, too little to blur detail. */
const FEATHER_RADIUS = 1

/**
 * The piece that lends each pixel of a rectangle, row-major.
 *
 * @param rect   in pixels of a picture that shows `factor` plate pixels of a side in one
 * @param place  moves the map onto the target, plate pixels
 */
export function mapPixels(map: PieceMap, place: Placement, rect: Rect, factor: number): Uint8Array {
  const [left, top, width, height] = map.box
  const labels = unpackPieces(map)
  const out = new Uint8Array(rect.w * rect.h)
  const middle = (factor - 1) / 2
  const nearest = (value: number, size: number) => Math.min(Math.max(Math.round(value), 0), size - 1)
  const onMap = underPlacement(place)
  for (let y = 0, i = 0; y < rect.h; y++) {
    const py = (rect.y + y) * factor + middle
    for (let x = 0; x < rect.w; x++, i++) {
      const px = (rect.x + x) * factor + middle
      const v = nearest(onMap.y(px, py) - top, height)
      out[i] = labels[v * width + nearest(onMap.x(px, py) - left, width)]
    }
  }
  return out
}

/**
 * @param count of pieces
 * @param place moves the map onto the target
 * @returns per piece its share of every pixel of the window, 0 to 1, row-major; of a pixel they add up to 1, and beyond
 * the map its edge goes on
 */
export function pieceWeights(
  workspace: Workspace,
  map: PieceMap,
  count: number,
  place: Placement,
  window: Rect,
): Float32Array[] {
  const [left, top, width, height] = map.box
  const labels = unpackPieces(map)
  const within = (value: number, size: number) => Math.min(Math.max(value, 0), size - 1)
  const onMap = underPlacement(place)
  return Array.from({ length: count }, (_, piece) => {
    const data = Float32Array.from(labels, (label) => (label === piece ? 1 : 0))
    const soft = boxMean(workspace, data, width, FEATHER_RADIUS)
    const out = new Float32Array(window.w * window.h)
    for (let y = 0, i = 0; y < window.h; y++) {
      for (let x = 0; x < window.w; x++, i++) {
        const v = within(onMap.y(window.x + x, window.y + y) - top, height)
        const [upper, lower] = [Math.floor(v) * width, within(Math.floor(v) + 1, height) * width]
        const down = v - Math.floor(v)
        const u = within(onMap.x(window.x + x, window.y + y) - left, width)
        const [from, to] = [Math.floor(u), within(Math.floor(u) + 1, width)]
        const across = u - from
        out[i] =
          (1 - down) * ((1 - across) * soft[upper + from] + across * soft[upper + to]) +
          down * ((1 - across) * soft[lower + from] + across * soft[lower + to])
      }
    }
    return out
  })
}

/** Where on the map a pixel of the target lies, column and row. */
function underPlacement({ dx, dy, transform }: Placement): {
  x(px: number, py: number): number
  y(px: number, py: number): number
} {
  if (transform === undefined) return { x: (px) => px - dx, y: (_, py) => py - dy }
  const [xx, xy, x1, yx, yy, y1, wx, wy, w1] = invert(transform)
  return {
    x: (px, py) => (xx * px + xy * py + x1) / (wx * px + wy * py + w1),
    y: (px, py) => (yx * px + yy * py + y1) / (wx * px + wy * py + w1),
  }
}
