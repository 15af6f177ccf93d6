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

/** What is made of a map once, and its shares where it was laid last: a camera that stands lays it alike on all frames. */
interface SoftMap {
  /** Per piece 1 where it lends, 0 elsewhere, over the map's box, running into each other. */
  readonly pieces: readonly Float32Array[]
  laid: string
  weights: readonly Readonly<Float32Array>[]
}

const softened = new WeakMap<PieceMap, SoftMap>()

function softMap(workspace: Workspace, map: PieceMap, count: number): SoftMap {
  const known = softened.get(map)
  if (known !== undefined && known.pieces.length === count) return known
  const labels = unpackPieces(map)
  const pieces = Array.from({ length: count }, (_, piece) => {
    const data = new Float32Array(labels.length)
    for (let i = 0; i < data.length; i++) data[i] = labels[i] === piece ? 1 : 0
    return boxMean(workspace, data, map.box[2], FEATHER_RADIUS)
  })
  const made: SoftMap = { pieces, laid: '', weights: [] }
  softened.set(map, made)
  return made
}

/**
 * @param count of pieces
 * @param place moves the map onto the target
 * @returns per piece its share of every pixel of the window, 0 to 1, row-major; of a pixel they add up to 1, and beyond
 * the map its edge goes on. Nothing of it is written over
 */
export function pieceWeights(
  workspace: Workspace,
  map: PieceMap,
  count: number,
  place: Placement,
  window: Rect,
): readonly Readonly<Float32Array>[] {
  const soft = softMap(workspace, map, count)
  const { dx, dy, transform } = place
  const laid = [window.x, window.y, window.w, window.h, ...(transform ?? [dx, dy])].join(' ')
  if (soft.laid === laid) return soft.weights
  const [left, top, width, height] = map.box
  const onMap = underPlacement(place)
  const [across, down] = [new Float64Array(window.w), new Float64Array(window.w)]
  const weights = soft.pieces.map(() => new Float32Array(window.w * window.h))
  for (let y = 0; y < window.h; y++) {
    for (let x = 0; x < window.w; x++) {
      across[x] = onMap.x(window.x + x, window.y + y) - left
      down[x] = onMap.y(window.x + x, window.y + y) - top
    }
    for (const [k, piece] of soft.pieces.entries())
      lookUp(piece, width, height, across, down, weights[k]!.subarray(y * window.w, (y + 1) * window.w))
  }
  soft.laid = laid
  soft.weights = weights
  return weights
}

/** A row of places on a map, each looked up between its four neighbours; beyond the map its edge goes on. */
function lookUp(
  map: Readonly<Float32Array>,
  width: number,
  height: number,
  across: Readonly<Float64Array>,
  down: Readonly<Float64Array>,
  out: Float32Array,
): void {
  for (let x = 0; x < out.length; x++) {
    const v = Math.min(Math.max(down[x]!, 0), height - 1)
    const row = Math.floor(v)
    const [upper, lower] = [row * width, Math.min(row + 1, height - 1) * width]
    const below = v - row
    const u = Math.min(Math.max(across[x]!, 0), width - 1)
    const from = Math.floor(u)
    const to = Math.min(from + 1, width - 1)
    const right = u - from
    out[x] =
      (1 - below) * ((1 - right) * map[upper + from]! + right * map[upper + to]!) +
      below * ((1 - right) * map[lower + from]! + right * map[lower + to]!)
  }
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
