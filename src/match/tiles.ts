// A surface in small cells: how much lighter or darker each has become against the quiet state, and how much of the change
// is left when its slope is taken out, since light on a surface changes smoothly and a thing before it does not.
import { agreeingGroup, mean } from './clean-plate.js'
import { GOOD } from './log-luminance.js'

/** Cells lie over the window, row by row, `size` pixels square; those at the right and lower edge may be cut. */
export interface CellGrid {
  readonly size: number
  readonly width: number
  readonly height: number
  readonly columns: number
  readonly rows: number
  /** The region's weight in each cell, pixels. */
  readonly weight: Float32Array
  readonly totalWeight: number
}

/** One frame against the quiet state, per cell. Cells with too few trusted pixels have `pixels` 0 and say nothing. */
export interface CellChange {
  readonly pixels: Float32Array
  /** Mean change of log2 luminance, stops: below 0 it is darker. */
  readonly change: Float32Array
  /** RMS of what is left of the change when a plane is taken out, stops: grain, or another surface. */
  readonly rough: Float32Array
  /** Mean product of the quiet texture and that rest; with it correlations need no second pass. */
  readonly cross: Float32Array
}

/** What the plate's quiet frames show per cell. */
export interface QuietCells {
  /** Their mean change, near 0: what aligning and rounding leave. */
  readonly change: Float32Array
  /** Standard deviation of `change` over quiet frames, stops. */
  readonly spread: Float32Array
  /** Mean `rough` of quiet frames: what grain alone leaves. */
  readonly rough: Float32Array
  /** Variance of the quiet texture in the cell about its plane, stops squared. */
  readonly texture: Float32Array
}

/** Cells across the shorter side of the region: enough to see where a shadow lies in it. */
const CELLS_ACROSS = 6
/** Smallest and largest side of a cell, pixels: under 5 grain rules its plane, over 8 a shadow's edge bends in it. */
const LEAST_CELL = 5
const MOST_CELL = 8
/** Share of a cell's pixels that must be trusted. */
const LEAST_TRUSTED = 0.5

/** @param inside the region's weights over a window of `width` pixels */
export function cellGrid(inside: Readonly<Float32Array>, width: number): CellGrid {
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
  const size = Math.max(LEAST_CELL, Math.min(MOST_CELL, Math.round(shorter / CELLS_ACROSS)))
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
  return { size, width, height, columns, rows, weight, totalWeight }
}

export function cellChange(cells: number): CellChange {
  const make = () => new Float32Array(cells)
  return { pixels: make(), change: make(), rough: make(), cross: make() }
}

/**
 * Measures one frame.
 *
 * @param aligned log2 luminance over the window, on the common grid
 * @param light   stops that bring it to the quiet state's light
 * @param level   the quiet state, log2 luminance
 * @param out     receives the answer
 */
export function measureCells(
  aligned: Readonly<Float32Array>,
  light: number,
  trust: Readonly<Uint8Array>,
  level: Readonly<Float32Array>,
  grid: CellGrid,
  out: CellChange,
): void {
  const { size, columns, rows, width, height } = grid
  for (let row = 0, cell = 0; row < rows; row++) {
    const y0 = row * size
    const y1 = Math.min(height, y0 + size)
    for (let column = 0; column < columns; column++, cell++) {
      const x0 = column * size
      const x1 = Math.min(width, x0 + size)
      // Sums about the cell's middle: n, x, y, d (change), t (texture) and their products.
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
          if (trust[i] !== GOOD) continue
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
      if (n < LEAST_TRUSTED * size * size) {
        out.pixels[cell] = 0
        out.change[cell] = 0
        out.rough[cell] = 0
        out.cross[cell] = 0
        continue
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
      out.pixels[cell] = n
      out.change[cell] = sd / n
      out.rough[cell] = Math.sqrt(Math.max(0, rest) / Math.max(1, n - 3))
      out.cross[cell] =
        (std - (st * sd) / n - slopeX * (sxt - (sx * st) / n) - slopeY * (syt - (sy * st) / n)) / n
    }
  }
}

/**
 * What quiet frames look like, from all frames: per cell, the largest agreeing group of them.
 *
 * @param level the quiet state, log2 luminance
 */
export function quietCells(
  frames: readonly CellChange[],
  level: Readonly<Float32Array>,
  grid: CellGrid,
): QuietCells {
  const cells = grid.columns * grid.rows
  const out = {
    change: new Float32Array(cells),
    spread: new Float32Array(cells),
    rough: new Float32Array(cells),
    texture: textureOf(level, grid),
  }
  const values = new Float32Array(frames.length)
  const bounds = new Int32Array(2)
  for (let cell = 0; cell < cells; cell++) {
    let n = 0
    for (const f of frames) if (f.pixels[cell] > 0) values[n++] = f.change[cell]
    if (n < 3) continue
    const changes = values.subarray(0, n).sort()
    agreeingGroup(changes, bounds)
    out.change[cell] = mean(changes, bounds[0], bounds[1])
    let square = 0
    for (let i = bounds[0]; i < bounds[1]; i++) square += (changes[i] - out.change[cell]) ** 2
    out.spread[cell] = Math.sqrt(square / (bounds[1] - bounds[0]))
    n = 0
    for (const f of frames) if (f.pixels[cell] > 0) values[n++] = f.rough[cell]
    const roughs = values.subarray(0, n).sort()
    agreeingGroup(roughs, bounds)
    out.rough[cell] = mean(roughs, bounds[0], bounds[1])
  }
  return out
}

/** Variance per cell of what is left of the level without its plane: what the change's rest, which has none, is compared with. */
function textureOf(level: Readonly<Float32Array>, grid: CellGrid): Float32Array {
  const change = cellChange(grid.columns * grid.rows)
  const nothing = new Float32Array(level.length)
  measureCells(level, 0, new Uint8Array(level.length).fill(GOOD), nothing, grid, change)
  return change.rough.map((r, cell) => r * r * Math.max(0, 1 - 3 / Math.max(change.pixels[cell], 1)))
}
