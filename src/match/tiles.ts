// A surface in small tiles: how much lighter or darker each has become against the reference state, and how much of the change
// is left when its slope is taken out, since light on a surface changes smoothly and an occluder does not.
import { agreeingGroup, mean } from './agreeing-group.js'
import { VALID } from './log-luminance.js'

/** Tiles lie over the window, row by row, `size` pixels square; those at the right and lower edge may be cut. */
export interface TileGrid {
  readonly size: number
  readonly width: number
  readonly height: number
  readonly columns: number
  readonly rows: number
  /** The region's weight in each tile, pixels. */
  readonly weight: Float32Array
  readonly totalWeight: number
  /**
   * Of a tile across the region's edge the region's own part is measured by itself, too: a mask often ends with the wall that it lies
   * on, and what lies beyond is lit otherwise. Per tile where that stands among the measures, behind all tiles; -1 of a tile without.
   */
  readonly own: Int32Array
  /** How many measures a frame has. */
  readonly measures: number
  /** 1 on the region. */
  readonly within: Uint8Array
}

/**
 * One frame against the reference state, per tile, and behind them per region's own part of those across its edge. Where too few pixels are
 * valid `pixels` is 0, and nothing is said.
 */
export interface TileChange {
  readonly pixels: Float32Array
  /** Mean change of log2 luminance, stops: below 0 it is darker. */
  readonly change: Float32Array
  /** RMS of what is left of the change when a plane is taken out, stops: grain, or another surface. */
  readonly residual: Float32Array
  /** Mean product of the reference texture and that rest; with it correlations need no second pass. */
  readonly cross: Float32Array
}

/** What the plate's unlit frames show per tile. */
export interface ReferenceTiles {
  /** Their mean change, near 0: what aligning and rounding leave. */
  readonly change: Float32Array
  /** Standard deviation of `change` over unlit frames, stops. */
  readonly spread: Float32Array
  /** Mean `residual` of unlit frames: what grain alone leaves. */
  readonly residual: Float32Array
  /** Variance of the reference texture in the tile about its plane, stops squared. */
  readonly texture: Float32Array
  /** Mean product of the reference texture with an unlit frame's own, and its standard deviation, stops squared. */
  readonly product: Float32Array
  readonly productSpread: Float32Array
}

/** Tiles across the shorter side of the region: enough to see where a shadow lies in it. */
const TILES_ACROSS = 6
/** Smallest and largest side of a tile, pixels: under 5 grain rules its plane, over 8 a shadow's edge bends in it. */
const MIN_TILE = 5
const MAX_TILE = 8
/** Share of a tile's pixels that must be valid, or of its own part's. */
const MIN_TRUSTED = 0.5
/** Fewer pixels than this tell no plane from grain. */
const MIN_OWN = 8

/** @param inside the region's weights over a window of `width` pixels */
export function tileGrid(inside: Readonly<Float32Array>, width: number): TileGrid {
  const height = inside.length / width
  let [left, top, right, bottom] = [width, height, -1, -1]
  for (let y = 0, i = 0; y < height; y++) {
    for (let x = 0; x < width; x++, i++) {
      if (inside[i] === 0) continue
      left = Math.min(left, x)
      right = Math.max(right, x)
      top = Math.min(top, y)
      bottom = y
    }
  }
  const shorter = Math.min(right - left, bottom - top) + 1
  const size = Math.max(MIN_TILE, Math.min(MAX_TILE, Math.round(shorter / TILES_ACROSS)))
  const columns = Math.ceil(width / size)
  const rows = Math.ceil(height / size)
  const weight = new Float32Array(columns * rows)
  let totalWeight = 0
  for (let y = 0, i = 0; y < height; y++) {
    const row = Math.floor(y / size) * columns
    for (let x = 0; x < width; x++, i++) {
      weight[row + Math.floor(x / size)] += inside[i]
      totalWeight += inside[i]
    }
  }
  const within = Uint8Array.from(inside, (v) => (v > 0 ? 1 : 0))
  const own = new Int32Array(columns * rows).fill(-1)
  let measures = own.length
  const all = new Int32Array(own.length)
  const some = new Int32Array(own.length)
  for (let y = 0, i = 0; y < height; y++) {
    const row = Math.floor(y / size) * columns
    for (let x = 0; x < width; x++, i++) {
      const tile = row + Math.floor(x / size)
      all[tile]++
      some[tile] += within[i]
    }
  }
  for (let tile = 0; tile < own.length; tile++)
    if (some[tile] >= MIN_OWN && some[tile] < all[tile]) own[tile] = measures++
  return { size, width, height, columns, rows, weight, totalWeight, own, measures, within }
}

/** @param measures how many a grid has */
export function tileChange(measures: number): TileChange {
  const make = () => new Float32Array(measures)
  return { pixels: make(), change: make(), residual: make(), cross: make() }
}

/**
 * Measures one frame.
 *
 * @param aligned log2 luminance over the window, on the common grid
 * @param light   stops that bring it to the reference state's light
 * @param level   the reference state, log2 luminance
 * @param out     receives the answer
 */
export function measureTiles(
  aligned: Readonly<Float32Array>,
  light: number,
  validity: Readonly<Uint8Array>,
  level: Readonly<Float32Array>,
  grid: TileGrid,
  out: TileChange,
): void {
  const { own, within } = grid
  for (let tile = 0; tile < own.length; tile++) {
    measureTile(aligned, light, validity, level, grid, null, tile, tile, out)
    if (own[tile] >= 0) measureTile(aligned, light, validity, level, grid, within, tile, own[tile], out)
  }
}

/**
 * @param of  1 where a pixel counts; null: all do
 * @param at  where `out` receives the answer
 */
function measureTile(
  aligned: Readonly<Float32Array>,
  light: number,
  validity: Readonly<Uint8Array>,
  level: Readonly<Float32Array>,
  grid: TileGrid,
  of: Readonly<Uint8Array> | null,
  tile: number,
  at: number,
  out: TileChange,
): void {
  const { size, width, height, columns } = grid
  const x0 = (tile % columns) * size
  const y0 = Math.floor(tile / columns) * size
  const x1 = Math.min(width, x0 + size)
  const y1 = Math.min(height, y0 + size)
  let counted = 0
  // Sums about the tile's middle: n, x, y, d (change), t (texture) and their products.
  let n = 0
  let sx = 0
  let sy = 0
  let sxx = 0
  let sxy = 0
  let syy = 0
  let sd = 0
  let sdd = 0
  let sxd = 0
  let syd = 0
  let st = 0
  let sxt = 0
  let syt = 0
  let std = 0
  const base = level[y0 * width + x0]
  for (let y = y0; y < y1; y++) {
    const v = y - y0 - (size - 1) / 2
    for (let x = x0, i = y * width + x0; x < x1; x++, i++) {
      if (of !== null && of[i] === 0) continue
      counted++
      if (validity[i] !== VALID) continue
      const u = x - x0 - (size - 1) / 2
      const d = aligned[i] + light - level[i]
      const t = level[i] - base
      n++
      sx += u
      sy += v
      sxx += u * u
      sxy += u * v
      syy += v * v
      sd += d
      sdd += d * d
      sxd += u * d
      syd += v * d
      st += t
      sxt += u * t
      syt += v * t
      std += t * d
    }
  }
  if (n < MIN_TRUSTED * (of === null ? size * size : counted)) {
    out.pixels[at] = 0
    out.change[at] = 0
    out.residual[at] = 0
    out.cross[at] = 0
    return
  }
  const a = sxx - (sx * sx) / n
  const b = sxy - (sx * sy) / n
  const c = syy - (sy * sy) / n
  const p = sxd - (sx * sd) / n
  const q = syd - (sy * sd) / n
  const det = a * c - b * b
  const slopeX = det > 0 ? (c * p - b * q) / det : 0
  const slopeY = det > 0 ? (a * q - b * p) / det : 0
  // Three numbers were fitted, so n - 3 are left to show grain.
  const rest = sdd - (sd * sd) / n - slopeX * p - slopeY * q
  out.pixels[at] = n
  out.change[at] = sd / n
  out.residual[at] = Math.sqrt(Math.max(0, rest) / Math.max(1, n - 3))
  out.cross[at] = (std - (st * sd) / n - slopeX * (sxt - (sx * st) / n) - slopeY * (syt - (sy * st) / n)) / n
}

/**
 * What unlit frames look like, from all frames: per tile, the largest agreeing group of them.
 *
 * @param level the reference state, log2 luminance
 */
export function referenceTiles(
  frames: readonly TileChange[],
  level: Readonly<Float32Array>,
  grid: TileGrid,
): ReferenceTiles {
  const tiles = grid.measures
  const out = {
    change: new Float32Array(tiles),
    spread: new Float32Array(tiles),
    residual: new Float32Array(tiles),
    texture: textureOf(level, grid),
    product: new Float32Array(tiles),
    productSpread: new Float32Array(tiles),
  }
  const values = new Float32Array(frames.length)
  const bounds = new Int32Array(2)
  for (let tile = 0; tile < tiles; tile++) {
    let n = 0
    for (const f of frames) if (f.pixels[tile] > 0) values[n++] = f.change[tile]
    if (n < 3) continue
    const changes = values.subarray(0, n).sort()
    agreeingGroup(changes, bounds)
    out.change[tile] = mean(changes, bounds[0], bounds[1])
    let square = 0
    for (let i = bounds[0]; i < bounds[1]; i++) square += (changes[i] - out.change[tile]) ** 2
    out.spread[tile] = Math.sqrt(square / (bounds[1] - bounds[0]))
    const [least, most] = [changes[bounds[0]], changes[bounds[1] - 1]]
    n = 0
    for (const f of frames) if (f.pixels[tile] > 0) values[n++] = f.residual[tile]
    const residuals = values.subarray(0, n).sort()
    agreeingGroup(residuals, bounds)
    out.residual[tile] = mean(residuals, bounds[0], bounds[1])
    const [smooth, rough] = [residuals[bounds[0]], residuals[bounds[1] - 1]]
    // Of the frames that agree in both: coding noise goes into the spread as it is, in blocks and all.
    n = 0
    for (const f of frames) {
      const c = f.change[tile]
      const r = f.residual[tile]
      const agrees = c >= least && c <= most && r >= smooth && r <= rough
      if (f.pixels[tile] > 0 && agrees) values[n++] = out.texture[tile] + f.cross[tile]
    }
    if (n < 2) continue
    out.product[tile] = mean(values, 0, n)
    let spread = 0
    for (let i = 0; i < n; i++) spread += (values[i] - out.product[tile]) ** 2
    out.productSpread[tile] = Math.sqrt(spread / (n - 1))
  }
  return out
}

/** Variance per tile of what is left of the level without its plane: what the change's rest, which has none, is compared with. */
function textureOf(level: Readonly<Float32Array>, grid: TileGrid): Float32Array {
  const change = tileChange(grid.measures)
  const nothing = new Float32Array(level.length)
  measureTiles(level, 0, new Uint8Array(level.length).fill(VALID), nothing, grid, change)
  return change.residual.map((r, tile) => r * r * Math.max(0, 1 - 3 / Math.max(change.pixels[tile], 1)))
}
