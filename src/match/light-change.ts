// Is it light that has changed on a surface, cell by cell, or does something stand there? Is the surface itself
// still there? A shadow or a reflection multiplies the light: its ratio to the quiet state is smooth and the texture stays.
// Something that walks through replaces the texture. J. C. S. Jacques Jr, C. R. Jung, S. R. Musse, Background Subtraction
// and Shadow Detection in Grayscale Video Sequences (SIBGRAPI 2005): NCC with the background plus a steady ratio; differs:
// the ratio may slope across a cell (soft edges), and what grain alone leaves of it is measured on the plate, not fixed.

import { MOST_LIGHT_STOPS } from './light-law.js'
import { isGone, surfaceKept } from './surface.js'
import type { CellChange, CellGrid, QuietCells } from './tiles.js'

/** A cell of this frame: not changed; the light on it has; or something stands there (or right beside it). */
export const STEADY = 0
export const LIT = 1
export const COVERED = 2
export const BESIDE = 3
export const UNSEEN = 4

/** Changes below this many spreads of the quiet frames are grain ... */
const CHANGED_SIGMA = 4
/** ... as are those under 2 %: no eye finds so faint a shadow, and no compositor looks for it. */
const CHANGED_STOPS = 0.03
/** Rougher than grain by this factor, a cell shows another surface. */
const COVERED_ROUGH = 2
/** A soft edge bends across a cell: this share of the change beside it may stay in the cell as roughness. */
const EDGE_ROUGH = 0.1
/** Share of a patch's border from which on it is enclosed. */
const MOSTLY = 0.5
/** Least roughness in stops that can be another surface: under it lies the rounding of an 8-bit plate. */
const LEAST_ROUGH = 0.015

/** A smooth thing is told from light by the texture it hides from so much change on, stops: coding alone smooths less. */
export const SMOOTH_THING_STOPS = 0.25

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
  markOtherSurfaces(f, quiet, grid, kind)
  markBeside(kind, grid)
  keepWhatThingsDoNotEnclose(kind, grid)
}

/** A thing as smooth as the surface is told by what it hides: round about, the surface's own texture is gone. */
function markOtherSurfaces(
  f: CellChange,
  quiet: QuietCells,
  { columns, rows }: CellGrid,
  kind: Uint8Array,
): void {
  const gone: number[] = []
  const near: number[] = []
  for (let row = 0, cell = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++, cell++) {
      if (kind[cell] !== LIT || Math.abs(f.change[cell] - quiet.change[cell]) < SMOOTH_THING_STOPS) continue
      near.length = 0
      for (let v = Math.max(0, row - 1); v <= Math.min(rows - 1, row + 1); v++) {
        for (let u = Math.max(0, column - 1); u <= Math.min(columns - 1, column + 1); u++) {
          if (kind[v * columns + u] === LIT) near.push(v * columns + u)
        }
      }
      if (isGone(surfaceKept(f, quiet, near))) gone.push(cell)
    }
  }
  for (const cell of gone) kind[cell] = COVERED
}

/** Cells next to a covered one: its fringe and contact shadow. */
function markBeside(kind: Uint8Array, { columns, rows }: CellGrid): void {
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
