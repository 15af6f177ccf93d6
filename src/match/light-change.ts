// What has changed on a surface, in small cells: how much lighter or darker, and whether the surface itself is still
// there. A shadow or a reflection multiplies the light: its ratio to the quiet state is smooth and the texture stays.
// Something that walks through replaces the texture. J. C. S. Jacques Jr, C. R. Jung, S. R. Musse, Background Subtraction
// and Shadow Detection in Grayscale Video Sequences (SIBGRAPI 2005): NCC with the background plus a steady ratio; differs:
// the ratio may slope across a cell (soft edges), and what grain alone leaves of it is measured on the plate, not fixed.
import { agreeingGroup, mean } from './empty.js'
import { GOOD } from './working.js'

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

/** A cell of this frame: not changed; the light on it has; or something stands there (or right beside it). */
export const STEADY = 0
export const LIT = 1
export const COVERED = 2
export const BESIDE = 3
export const UNSEEN = 4

/** Cells across the shorter side of the region: enough to see where a shadow lies in it. */
const CELLS_ACROSS = 6
/** Smallest and largest side of a cell, pixels: under 5 grain rules its plane, over 8 a shadow's edge bends in it. */
const LEAST_CELL = 5
const MOST_CELL = 8
/** Share of a cell's pixels that must be trusted. */
const LEAST_TRUSTED = 0.5
/** Changes below this many spreads of the quiet frames are grain ... */
const CHANGED_SIGMA = 4
/** ... as are those under 2 %: no eye finds so faint a shadow, and no compositor looks for it. */
const CHANGED_STOPS = 0.03
/** Rougher than grain by this factor, a cell shows another surface. */
const COVERED_ROUGH = 2
/** A soft edge bends across a cell: this share of the change beside it may stay in the cell as roughness. */
const EDGE_ROUGH = 0.1
/** No shadow takes more, no reflection adds more than this, in stops: full sun to open shade is three to four. */
const MOST_LIGHT_STOPS = 5
/** Share of a patch's border from which on it is enclosed. */
const MOSTLY = 0.5
/** Least roughness in stops that can be another surface: under it lies the rounding of an 8-bit plate. */
const LEAST_ROUGH = 0.015

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

/** Change beyond which a cell counts as changed, stops. */
export function changedFrom(quiet: QuietCells, cell: number): number {
  return Math.max(CHANGED_STOPS, CHANGED_SIGMA * quiet.spread[cell])
}

/**
 * Tells light from things, cell by cell.
 *
 * @param kind receives STEADY, LIT, COVERED, BESIDE (next to a covered cell: its fringe and contact shadow) or UNSEEN
 */
export function classifyCells(f: CellChange, quiet: QuietCells, grid: CellGrid, kind: Uint8Array): void {
  for (let cell = 0; cell < kind.length; cell++) {
    if (f.pixels[cell] === 0) {
      kind[cell] = UNSEEN
      continue
    }
    const change = f.change[cell] - quiet.change[cell]
    // Grain in stops grows as light goes: by the root of the light for photon noise, by all of it for a camera's own.
    const darker = 2 ** Math.max(0, -change)
    const limit =
      COVERED_ROUGH * Math.max(quiet.rough[cell], LEAST_ROUGH) * darker +
      EDGE_ROUGH * changeNear(f, quiet, grid, cell)
    if (f.rough[cell] > limit || Math.abs(change) > MOST_LIGHT_STOPS) kind[cell] = COVERED
    else kind[cell] = Math.abs(change) > changedFrom(quiet, cell) ? LIT : STEADY
  }
  markBeside(kind, grid)
  keepWhatThingsDoNotEnclose(kind, grid)
}

/** Cells next to a covered one: its fringe and contact shadow. */
export function markBeside(kind: Uint8Array, { columns, rows }: CellGrid): void {
  for (let row = 0, cell = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++, cell++) {
      if (kind[cell] !== LIT && kind[cell] !== STEADY) continue
      for (let v = Math.max(0, row - 1); v <= Math.min(rows - 1, row + 1); v++) {
        for (let u = Math.max(0, column - 1); u <= Math.min(columns - 1, column + 1); u++) {
          if (kind[v * columns + u] === COVERED) kind[cell] = BESIDE
        }
      }
    }
  }
}

/**
 * A patch of changed light that things mostly enclose, and that is smaller than they are, is taken for a part of them:
 * the flat back of a coat. A shadow that somebody stands in or beside stays one.
 */
function keepWhatThingsDoNotEnclose(kind: Uint8Array, grid: CellGrid): void {
  const { columns } = grid
  const patch = new Int32Array(kind.length)
  const queue = new Int32Array(kind.length)
  for (let start = 0; start < kind.length; start++) {
    if (kind[start] !== LIT || patch[start] > 0) continue
    const lit = flood(kind, columns, [start], start + 1, patch, queue, (k) => k === LIT)
    const border = new Set<number>()
    for (const cell of lit)
      for (const next of neighbours(cell, columns, kind.length)) if (kind[next] !== LIT) border.add(next)
    const edge = [...border].filter((cell) => isThing(kind[cell]))
    if (edge.length <= MOSTLY * border.size) continue
    const things = flood(kind, columns, edge, start + 1, new Int32Array(kind.length), queue, isThing)
    if (lit.length < things.length) for (const cell of lit) kind[cell] = BESIDE
  }
}

/** Something stands in the cell, or right beside it. */
export function isThing(kind: number): boolean {
  return kind === COVERED || kind === BESIDE
}

/** All cells of a kind that hang together with the given ones; they get `mark`. */
function flood(
  kind: Readonly<Uint8Array>,
  columns: number,
  from: readonly number[],
  mark: number,
  marks: Int32Array,
  queue: Int32Array,
  joins: (kind: number) => boolean,
): Int32Array {
  let n = 0
  for (const cell of from) {
    marks[cell] = mark
    queue[n++] = cell
  }
  for (let i = 0; i < n; i++) {
    for (const next of neighbours(queue[i], columns, kind.length)) {
      if (marks[next] === mark || !joins(kind[next])) continue
      marks[next] = mark
      queue[n++] = next
    }
  }
  return queue.slice(0, n)
}

function neighbours(cell: number, columns: number, cells: number): number[] {
  const column = cell % columns
  const out: number[] = []
  if (column > 0) out.push(cell - 1)
  if (column < columns - 1) out.push(cell + 1)
  if (cell >= columns) out.push(cell - columns)
  if (cell + columns < cells) out.push(cell + columns)
  return out
}

/** The largest change in a cell and the eight round it, stops. */
function changeNear(f: CellChange, quiet: QuietCells, { columns, rows }: CellGrid, cell: number): number {
  const column = cell % columns
  const row = (cell - column) / columns
  let most = 0
  for (let v = Math.max(0, row - 1); v <= Math.min(rows - 1, row + 1); v++) {
    for (let u = Math.max(0, column - 1); u <= Math.min(columns - 1, column + 1); u++) {
      const i = v * columns + u
      if (f.pixels[i] > 0) most = Math.max(most, Math.abs(f.change[i] - quiet.change[i]))
    }
  }
  return Math.min(most, MOST_LIGHT_STOPS)
}

/**
 * Correlation of a frame's texture with the quiet state's over some cells, the smooth change divided out: a plane per
 * cell is taken out of both.
 *
 * @param counts cells that count
 * @returns -1 to 1; null where the quiet texture is fainter than grain, so that nothing can be told
 */
export function surfaceCorrelation(
  f: CellChange,
  quiet: QuietCells,
  counts: (cell: number) => boolean,
): number | null {
  let texture = 0
  let product = 0
  let other = 0
  let grain = 0
  for (let cell = 0; cell < f.change.length; cell++) {
    const n = f.pixels[cell]
    if (n === 0 || !counts(cell)) continue
    const t = quiet.texture[cell]
    const r = f.rough[cell] ** 2 * Math.max(0, 1 - 3 / n)
    texture += n * t
    product += n * (t + f.cross[cell])
    other += n * (t + 2 * f.cross[cell] + r)
    grain += n * quiet.rough[cell] ** 2
  }
  if (!(texture > FAINT_TEXTURE * grain) || !(other > 0)) return null
  return Math.max(-1, Math.min(1, product / Math.sqrt(texture * other)))
}

/** Texture of less than this share of grain's variance tells no surface from another. */
const FAINT_TEXTURE = 0.25

/** Variance per cell of what is left of the level without its plane: what the change's rest, which has none, is compared with. */
function textureOf(level: Readonly<Float32Array>, grid: CellGrid): Float32Array {
  const change = cellChange(grid.columns * grid.rows)
  const nothing = new Float32Array(level.length)
  measureCells(level, 0, new Uint8Array(level.length).fill(GOOD), nothing, grid, change)
  return change.rough.map((r, cell) => r * r * Math.max(0, 1 - 3 / Math.max(change.pixels[cell], 1)))
}
