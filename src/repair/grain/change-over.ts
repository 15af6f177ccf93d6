// How much of a plate changes from one frame to another over some of its pixels, cell by cell, in units that the light has no
// say in: who passes in a cell says nothing of grain.
import { CELL_PX, cellDistances, cellProducts } from '../../kernels/cells.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import { DARKEST, USUAL_POWER } from './model.js'

/** Of so many pixels every cell is looked at, of four times as many every second across and down. */
const MAX_PIXELS = 300 ** 2
/** A cell tells where so much of it counts. */
const MIN_SHARE = 0.5
/** Somebody who passes changes a cell by more than so many times the usual variance. */
const PASSING = 4
/** Where more than half of the cells change by more than grain ever does, the whole picture has changed. */
const MIN_CALM = 0.5

/**
 * Half the mean variance of what two frames of one surface differ by in green, each cell brought to one light.
 *
 * @param counts  per pixel more than 0 where it is looked at
 * @param isMixed somebody may pass there: cells with far more than the others are left out
 * @returns null where no cell counts
 */
export function changeOver(
  workspace: Workspace,
  one: Frame,
  other: Frame,
  counts: Readonly<Float32Array>,
  isMixed: boolean,
): number | null {
  const cells = changesInCells(workspace, one, other, counts)
  return meanUpTo(cells, isMixed ? PASSING * usualOf(cells) : Number.POSITIVE_INFINITY)
}

/** The same by cells, of those that count. */
export function changesInCells(
  workspace: Workspace,
  one: Frame,
  other: Frame,
  counts: Readonly<Float32Array>,
): number[] {
  const [height, width] = one.shape
  const found: number[] = []
  const step = CELL_PX * Math.max(1, Math.floor(Math.sqrt((width * height) / MAX_PIXELS)))
  const cells = cellProducts(workspace, { one: one.data, two: other.data, counts, width }, step)
  for (let k = 0; k < cells.length; k += 6) {
    const [n, a, b] = [cells[k]!, cells[k + 1]!, cells[k + 2]!]
    const [aa, ab, bb] = [cells[k + 3]!, cells[k + 4]!, cells[k + 5]!]
    if (n < MIN_SHARE * CELL_PX ** 2 || !(a > 0 && b > 0)) continue
    const gain = a / b
    const light = Math.max(DARKEST, (a + b) / (2 * n))
    found.push(Math.max(0, aa - 2 * gain * ab + gain * gain * bb) / (2 * n) / light ** (2 * USUAL_POWER))
  }
  return found
}

/**
 * What several pairs of frames change by over cells where somebody may pass. Of a pair on which a codec repeats all but who passes
 * he is what is usual: what is usual on all of them tells of him.
 *
 * @param pairs of each its cells, as `changesInCells` has them
 * @returns for each as `changeOver` has it; null where most of it is no grain
 */
export function calmChanges(pairs: readonly (readonly number[])[]): (number | null)[] {
  const most = PASSING * usualOf(pairs.flat())
  return pairs.map((cells) => meanUpTo(cells, PASSING * Math.min(usualOf(cells), most), MIN_CALM))
}

/** @param least share of the cells that must count; null is answered where fewer do, or none */
function meanUpTo(cells: readonly number[], most: number, least = 0): number | null {
  const calm = cells.filter((v) => v <= most)
  if (calm.length === 0 || calm.length < least * cells.length) return null
  return calm.reduce((sum, v) => sum + v, 0) / calm.length
}

/** Median of those that change at all. */
function usualOf(values: readonly number[]): number {
  const changed = Float64Array.from(values.filter((v) => v > 0)).sort()
  return changed[changed.length >> 1] ?? 0
}

/**
 * Mean square of what a picture differs from another by in green, per cell, in units that the light has no say in; infinite where
 * either has a hole.
 */
export function awayInCells(
  workspace: Workspace,
  one: Readonly<Float32Array>,
  other: Readonly<Float32Array>,
  counts: Readonly<Float32Array>,
  width: number,
): number[] {
  const cells = cellDistances(workspace, { one, two: other, counts, width })
  const found: number[] = []
  for (let k = 0; k < cells.length; k += 3) {
    const [n, light, squares] = [cells[k]!, cells[k + 1]!, cells[k + 2]!]
    if (n < MIN_SHARE * CELL_PX ** 2) continue
    const away = squares / n / Math.max(DARKEST, light / n) ** (2 * USUAL_POWER)
    found.push(Number.isFinite(away) ? away : Number.POSITIVE_INFINITY)
  }
  return found
}
