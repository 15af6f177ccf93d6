// Closes what is left of a difference in light at a patch's border. To import a donor's gradients and meet the target at the
// border is to add a membrane to the donor: the solution of Laplace's equation with the differences at the border as its rim
// (P. Perez, M. Gangnet, A. Blake, Poisson Image Editing, SIGGRAPH 2003, section 2). Differs: the membrane multiplies, since what
// differs is light, which falls on dark and bright surfaces as the same factor, so that black stays black whatever its rim
// says; and it is pulled to the rim instead of meeting it, so that grain stays outside.
import { frame } from '../../raster/frame.js'
import { Laplace } from '../laplace.js'
import type { Blended } from './blend.js'
import { type BorderCells, CELL_PX } from './border-cells.js'

/** The border is told over this radius, pixels. */
const RADIUS_PX = 10
/** What the first membrane leaves of the differences is spanned by a second (J. W. Tukey, Exploratory Data Analysis, 1977: twicing). */
const MEMBRANES = 2
/** Fewer cells than this tell nothing. */
const MIN_CELLS = 8

/** The membrane on a coarse grid: R, G, B in stops, in the middles of cells. */
export interface Membrane {
  readonly columns: number
  readonly rows: number
  readonly stops: readonly Float32Array[]
}

/**
 * Who stands across the border in the target or in the donor has no say: that part of it is spanned from beside it.
 *
 * @param borders of the frame itself and of those that it is to be steady with, over one window
 * @returns null where too little of the border is seen
 */
export function membraneOver(borders: readonly BorderCells[]): Membrane | null {
  const { columns, rows, weight, stops: wanted } = meanOf(borders)
  if (weight.reduce((sum, w) => sum + (w > 0 ? 1 : 0), 0) < MIN_CELLS) return null
  const radius = RADIUS_PX / CELL_PX
  const laplace = new Laplace(
    weight.map((w) => w / radius ** 2),
    columns,
  )
  const stops = wanted.map((of) => {
    const sum = new Float32Array(of.length)
    const next = new Float32Array(of.length)
    for (let round = 0; round < MEMBRANES; round++) {
      for (let k = 0; k < next.length; k++) next[k] = of[k]! - sum[k]!
      laplace.solve(next)
      for (let k = 0; k < next.length; k++) sum[k]! += next[k]!
    }
    return sum
  })
  return { columns, rows, stops }
}

function meanOf(borders: readonly BorderCells[]): BorderCells {
  const { columns, rows } = borders[0]!
  const weight = new Float32Array(columns * rows)
  const stops = [0, 1, 2].map(() => new Float32Array(weight.length))
  for (const of of borders)
    for (let k = 0; k < weight.length; k++) {
      weight[k]! += of.weight[k]!
      for (let c = 0; c < 3; c++) stops[c]![k]! += of.weight[k]! * of.stops[c]![k]!
    }
  for (let k = 0; k < weight.length; k++)
    for (let c = 0; c < 3; c++) stops[c]![k]! /= weight[k]! > 0 ? weight[k]! : 1
  return { columns, rows, stops, weight: weight.map((w) => w / borders.length) }
}

/** Lent pixels, and what is known of their detail, under a membrane. */
export function underMembrane(lent: Blended, membrane: Membrane): Blended {
  const { matched, detail } = lent
  const [height, width] = matched.shape
  const data = matched.data.slice()
  const energy = detail?.energy.slice()
  const factors = new Float32Array(3 * width)
  let squares = 0
  for (let y = 0, i = 0; y < height; y++) {
    factorsOn(membrane, y, factors)
    for (let x = 0; x < width; x++, i++) {
      for (let c = 0; c < 3; c++) data[3 * i + c]! *= factors[3 * x + c]!
      const square = factors[3 * x + 1]! ** 2
      squares += square / (width * height)
      if (energy) energy[i]! *= square
    }
  }
  return {
    ...lent,
    matched: frame(height, width, 3, data),
    detail: detail && { energy: energy!, spectrum: detail.spectrum.map((v) => v * squares) },
  }
}

/** Linear-light factors of one row of pixels, R, G and B of each: bilinear between the middles of cells. */
function factorsOn({ columns, rows, stops }: Membrane, y: number, out: Float32Array): void {
  const down = cellAt(y, rows)
  for (let x = 0, i = 0; i < out.length; x++) {
    const across = cellAt(x, columns)
    const upper = Math.floor(down) * columns + Math.floor(across)
    const right = across % 1 > 0 ? 1 : 0
    const lower = upper + (down % 1 > 0 ? columns : 0)
    const [u, v] = [across % 1, down % 1]
    for (let c = 0; c < 3; c++, i++) {
      const s = stops[c]!
      const above = s[upper]! + u * (s[upper + right]! - s[upper]!)
      const below = s[lower]! + u * (s[lower + right]! - s[lower]!)
      out[i] = 2 ** (above + v * (below - above))
    }
  }
}

/** Where a pixel lies between the middles of `n` cells; at the edges in the last. */
function cellAt(pixel: number, n: number): number {
  return Math.min(n - 1, Math.max(0, (pixel + 0.5) / CELL_PX - 0.5))
}
