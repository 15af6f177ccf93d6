// What will be seen along a mask's border where a donor is laid in: a step of the light, or detail that differs, and where.

import { select } from '../../match/selection.js'
import { STEP_STOPS } from '../../match/thresholds.js'
import { SIDES, type Side } from '../mask-edges.js'
import type { Border } from './beside-mask.js'

/** An edge counts beside the worst one when it differs by so large a share of it: for light of the step, else of the square. */
const BESIDE_WORST = 0.5
/** From this share on of what differs along an edge in one of its end thirds, it is a corner that differs. */
const CORNER_SHARE = 0.7
const THIRDS = 3
/** A step is looked for this close to the mask, pixels: a patch meets the plate there. */
const NEAR_PX = 10
/** Fewer pixels along an edge tell nothing, and so does less of it than this. */
const MIN_PIXELS = 40
const SEEN_SHARE = 0.7
/** So large a share of an edge must step alike: to within grain, or this share of the step. */
const COMMON_SHARE = 0.8
const COMMON_ROOM = 1 / 3
const GRAIN_SIGMA = 3

export interface BorderDifference {
  readonly what: 'light' | 'detail'
  /** The edges along which it shows, the worst among them, in the order of SIDES. */
  readonly sides: readonly Side[]
  /** The end of those edges that it is limited to; null: it is not. */
  readonly corner: readonly [vertical: 'upper' | 'lower', horizontal: 'left' | 'right'] | null
  /** Of light: target over donor there, stops, above 0 where the donor is darker than what lies beside it. */
  readonly stops: number
}

/** Sums over one third of one edge. */
interface Cell {
  weight: number
  sum: number
  square: number
  grain: number
}

/**
 * @param difference target less donor in stops at each pixel of the border, the light matched; NaN where it is not compared
 * @param variance   what grain alone gives of its square, the same
 * @param counts     1 where it counts; absent: everywhere
 * @returns null where nothing is compared, or nothing differs
 */
export function borderDifference(
  border: Border,
  difference: Readonly<Float32Array>,
  variance: Readonly<Float32Array>,
  counts?: Readonly<Uint8Array>,
): BorderDifference | null {
  const cells: Cell[] = Array.from({ length: SIDES.length * THIRDS }, () => {
    return { weight: 0, sum: 0, square: 0, grain: 0 }
  })
  for (let i = 0; i < difference.length; i++) {
    const d = difference[i]
    if (Number.isNaN(d) || counts?.[i] === 0) continue
    const cell = cells[border.side[i] * THIRDS + border.third[i]]
    const w = border.near[i]
    cell.weight += w
    cell.sum += w * d
    cell.square += w * d * d
    cell.grain += w * variance[i]
  }
  const light = cells.map(({ weight, sum }) => (weight > 0 ? (sum * sum) / weight : 0))
  const detail = cells.map(({ square, grain }, k) => Math.max(0, square - light[k] - grain))
  const total = (energy: readonly number[]) => energy.reduce((a, b) => a + b, 0)
  if (total(light) + total(detail) === 0) return null
  return total(light) >= total(detail) ? stepOf(cells, light) : detailOf(cells, detail)
}

/**
 * A step of the light along whole edges of a mask, told next to them by what they have in common: an edge along which all
 * is darker by much the same lies in another light, or before something as plain as light.
 *
 * @param steady 1 where the difference is known to a seam, which tells of it there; the rest as in `borderDifference`
 * @returns null where no edge steps
 */
export function lightStep(
  border: Border,
  difference: Readonly<Float32Array>,
  variance: Readonly<Float32Array>,
  steady: Readonly<Uint8Array>,
): BorderDifference | null {
  const along = SIDES.map(() => new Float32Array(difference.length))
  const counted = new Int32Array(SIDES.length)
  const near = new Int32Array(SIDES.length)
  const known = new Int32Array(SIDES.length)
  const grains = new Float64Array(SIDES.length)
  for (let i = 0; i < difference.length; i++) {
    if (border.far[i] > NEAR_PX) continue
    const side = border.side[i]
    near[side]++
    if (Number.isNaN(difference[i])) continue
    along[side][counted[side]++] = difference[i]
    known[side] += steady[i]
    grains[side] += variance[i]
  }
  const steps = along.map((list, side) => {
    const n = counted[side]
    if (n < Math.max(MIN_PIXELS, SEEN_SHARE * near[side]) || known[side] > n / 2) return 0
    const values = list.subarray(0, n)
    const step = select(values, n >> 1)
    if (Math.abs(step) < STEP_STOPS) return 0
    const room = Math.max(GRAIN_SIGMA * Math.sqrt(grains[side] / n), Math.abs(step) * COMMON_ROOM)
    let common = 0
    for (let i = 0; i < n; i++) if (Math.abs(values[i] - step) <= room) common++
    return common >= COMMON_SHARE * n ? step : 0
  })
  const worst = steps.reduce((a, b) => (Math.abs(b) > Math.abs(a) ? b : a))
  if (worst === 0) return null
  const sides = SIDES.filter((_, s) => Math.sign(steps[s]) === Math.sign(worst))
  return { what: 'light', sides, corner: null, stops: worst }
}

function stepOf(cells: readonly Cell[], light: readonly number[]): BorderDifference {
  const steps = SIDES.map((_, s) => {
    const own = ofSide(cells, s)
    const weight = own.reduce((sum, c) => sum + c.weight, 0)
    return weight > 0 ? own.reduce((sum, c) => sum + c.sum, 0) / weight : 0
  })
  const worst = steps.reduce((a, b) => (Math.abs(b) > Math.abs(a) ? b : a))
  // A donor that is darker on one side is brighter on the other, once its light is matched all round: one of them is told.
  const chosen = SIDES.filter((_, s) => Math.sign(worst) * steps[s] >= BESIDE_WORST * Math.abs(worst))
  const corner = cornerOf(chosen, light)
  const shown = chosen.flatMap((side) => {
    const own = ofSide(cells, SIDES.indexOf(side))
    return corner === null ? own : [own[endOf(side, corner)]]
  })
  const weight = shown.reduce((sum, c) => sum + c.weight, 0)
  return { what: 'light', sides: chosen, corner, stops: shown.reduce((sum, c) => sum + c.sum, 0) / weight }
}

function detailOf(cells: readonly Cell[], detail: readonly number[]): BorderDifference {
  const squares = SIDES.map((_, s) => {
    const weight = ofSide(cells, s).reduce((sum, c) => sum + c.weight, 0)
    return weight > 0 ? ofSide(detail, s).reduce((a, b) => a + b, 0) / weight : 0
  })
  const worst = Math.max(...squares)
  const chosen = SIDES.filter((_, s) => squares[s] >= BESIDE_WORST * worst)
  return { what: 'detail', sides: chosen, corner: cornerOf(chosen, detail), stops: 0 }
}

function ofSide<T>(cells: readonly T[], side: number): readonly T[] {
  return cells.slice(side * THIRDS, (side + 1) * THIRDS)
}

/** The corner in which nearly all of what differs along the chosen edges lies. */
function cornerOf(sides: readonly Side[], energy: readonly number[]): BorderDifference['corner'] {
  if (sides.length > 2) return null
  for (const vertical of ['upper', 'lower'] as const)
    for (const horizontal of ['left', 'right'] as const) {
      if (!sides.every((side) => side === vertical || side === horizontal)) continue
      const shares = sides.map((side) => {
        const own = ofSide(energy, SIDES.indexOf(side))
        return own[endOf(side, [vertical, horizontal])] / own.reduce((a, b) => a + b, 0)
      })
      if (shares.every((share) => share >= CORNER_SHARE)) return [vertical, horizontal]
    }
  return null
}

/** The third of an edge that ends in a corner. */
function endOf(side: Side, [vertical, horizontal]: readonly [Side, Side]): number {
  const end = side === 'left' || side === 'right' ? vertical : horizontal
  return end === 'upper' || end === 'left' ? 0 : THIRDS - 1
}
