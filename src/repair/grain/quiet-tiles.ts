// The tiles of a picture on which grain can be told from texture: the smoothest of those that are trusted and not clipped.
import type { Tiles } from '../../kernels/tiles.js'
import type { Frame } from '../../raster/frame.js'
import { TILE_PX } from './model.js'

/** Tiles up to this share, the smoothest first, and at most so many: more tell nothing new. */
const QUIET_SHARE = 0.4
const MAX_TILES = 96
/** Fewer than these are no sample. */
export const MIN_TILES = 4
/** Steps between tiles' corners: overlapping by half, as narrow rings hold few. */
const STEP_PX = TILE_PX / 2
/** Light below this is black to every plate: what is cut off there has no grain. */
const BLACK = 2 ** -11

/**
 * @param picture linear RGB
 * @param trusted 0 leaves a pixel out; a tile with such a pixel is none
 * @param clip    light from which a sample is clipped
 * @param all     take an even share of all tiles; else of the smoothest
 */
export function quietTiles(
  { data, shape: [height, width] }: Frame,
  trusted: Readonly<Float32Array>,
  clip: number,
  all: boolean,
): Tiles {
  const found: { corner: number; roughness: number }[] = []
  for (let top = 0; top + TILE_PX <= height; top += STEP_PX)
    for (let left = 0; left + TILE_PX <= width; left += STEP_PX) {
      const corner = top * width + left
      const roughness = roughnessOf(data, trusted, clip, corner, width)
      if (roughness !== null) found.push({ corner, roughness })
    }
  if (!all) found.sort((a, b) => a.roughness - b.roughness)
  const share = all ? found.length : Math.max(MIN_TILES, Math.ceil(QUIET_SHARE * found.length))
  const kept = found.slice(0, share)
  const every = Math.max(1, Math.ceil(kept.length / MAX_TILES))
  return { corners: Int32Array.from(kept.filter((_, i) => i % every === 0).map((t) => t.corner)), width }
}

/** Tiles below each other in a picture of their own. @returns where they lie there */
export function stacked({ corners }: Tiles): Tiles {
  return { corners: corners.map((_, t) => t * TILE_PX * TILE_PX), width: TILE_PX }
}

/** Puts tiles of a picture into one of the tiles alone, below each other. @param rgb interleaved, so `into` */
export function cutTiles({ corners, width }: Tiles, rgb: Readonly<Float32Array>, into: Float32Array): void {
  for (let t = 0, to = 0; t < corners.length; t++)
    for (let y = 0, from = 3 * corners[t]!; y < TILE_PX; y++, from += 3 * width, to += 3 * TILE_PX)
      into.set(rgb.subarray(from, from + 3 * TILE_PX), to)
}

/** Puts tiles of one channel of a picture into one of the tiles alone, below each other, three samples a pixel. */
export function stackTiles(
  { corners, width }: Tiles,
  channel: Readonly<Float32Array>,
  c: number,
  into: Float32Array,
): void {
  for (let t = 0, to = c; t < corners.length; t++)
    for (let y = 0; y < TILE_PX; y++)
      for (let x = 0, at = corners[t]! + y * width; x < TILE_PX; x++, at++, to += 3) into[to] = channel[at]!
}

/** Mean square difference of neighbours' means, over the square of the light; null where the tile is no witness. */
function roughnessOf(
  data: Readonly<Float32Array>,
  trusted: Readonly<Float32Array>,
  clip: number,
  corner: number,
  width: number,
): number | null {
  let light = 0
  let steps = 0
  const green = (i: number) => data[3 * i + 1]!
  for (let y = 0; y < TILE_PX; y++)
    for (let x = 0; x < TILE_PX; x++) {
      const i = corner + y * width + x
      if (!(trusted[i]! > 0)) return null
      for (let c = 3 * i; c < 3 * i + 3; c++) if (!(data[c]! < clip)) return null
      light += green(i)
      if (x < 4 || y < 4) continue
      // Means of three pixels side by side, three apart: grain averages out, edges do not.
      const across = green(i) + green(i - width) + green(i - 2 * width)
      const before = green(i - 3) + green(i - 3 - width) + green(i - 3 - 2 * width)
      const above = green(i - 3 * width) + green(i - 3 * width - 1) + green(i - 3 * width - 2)
      const here = green(i) + green(i - 1) + green(i - 2)
      steps += (across - before) ** 2 + (here - above) ** 2
    }
  light /= TILE_PX * TILE_PX
  return light > BLACK ? steps / (light * light) : null
}
