// A mosaic's map laid on a target frame: how much of every pixel each piece lends.

import { boxBlur } from '../raster/pyramid.js'
import type { Rect } from '../raster/rect.js'
import type { Offset } from '../raster/transform.js'
import { type PieceMap, unpackPieces } from '../search/piece-map.js'
import type { FrameMatch, Result } from '../search/result.js'

/** Pieces run into each other over three pixels: enough to hide the last of a step in light, too little to blur detail. */
const FEATHER_RADIUS = 1

/** The map that a frame's pieces belong to. @throws RangeError where the result has no candidate with that frame */
export function mapOf({ candidates }: Result, match: FrameMatch): PieceMap {
  const owner = candidates.find(({ frames }) => frames.some((f) => f === match || f.pieces === match.pieces))
  if (owner?.map === undefined)
    throw new RangeError(`no mosaic of the result has frame ${match.target} as given`)
  return owner.map
}

/**
 * The piece that lends each pixel of a rectangle, row-major.
 *
 * @param rect   in pixels of a picture that shows `factor` plate pixels of a side in one
 * @param place  moves the map onto the target, plate pixels
 */
export function mapPixels(map: PieceMap, place: Offset, rect: Rect, factor: number): Uint8Array {
  const [left, top, width, height] = map.box
  const labels = unpackPieces(map)
  const out = new Uint8Array(rect.w * rect.h)
  const middle = (factor - 1) / 2
  const nearest = (value: number, size: number) => Math.min(Math.max(Math.round(value), 0), size - 1)
  for (let y = 0, i = 0; y < rect.h; y++) {
    const v = nearest((rect.y + y) * factor + middle - place.dy - top, height)
    for (let x = 0; x < rect.w; x++, i++)
      out[i] = labels[v * width + nearest((rect.x + x) * factor + middle - place.dx - left, width)]
  }
  return out
}

/**
 * @param count of pieces
 * @param place moves the map onto the target
 * @returns per piece its share of every pixel of the window, 0 to 1, row-major; of a pixel they add up to 1, and beyond
 * the map its edge goes on
 */
export function pieceWeights(map: PieceMap, count: number, place: Offset, window: Rect): Float32Array[] {
  const [left, top, width, height] = map.box
  const labels = unpackPieces(map)
  const within = (value: number, size: number) => Math.min(Math.max(value, 0), size - 1)
  return Array.from({ length: count }, (_, piece) => {
    const data = Float32Array.from(labels, (label) => (label === piece ? 1 : 0))
    const soft = boxBlur({ x: 0, y: 0, width, height, data }, FEATHER_RADIUS).data
    const out = new Float32Array(window.w * window.h)
    for (let y = 0, i = 0; y < window.h; y++) {
      const v = within(window.y + y - place.dy - top, height)
      const [upper, lower] = [Math.floor(v) * width, within(Math.floor(v) + 1, height) * width]
      const down = v - Math.floor(v)
      for (let x = 0; x < window.w; x++, i++) {
        const u = within(window.x + x - place.dx - left, width)
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
