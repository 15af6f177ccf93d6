// Ways to fill the whole range, read off the match matrix: a column is a hold, a diagonal a run, an anti-diagonal a
// mirror, a cheapest path a relay, several columns together a stack.
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { keyOf } from '../../shot/frame-key.js'
import type { CandidateKind } from '../kinds.js'
import type { Draft } from '../measure.js'
import { offsetBetween } from '../register.js'
import { dissolved } from './dissolve.js'
import type { Matrix } from './matrix.js'
import { costOfMean, overRange, stackOf } from './stack-shares.js'

/** Price of a change of donor in a relay, in the matrix's units summed over frames: it must gain more than that. */
const CHANGE_PRICE = 1.5
/** Price per pixel by which the 2D offset jumps at a change. */
const JUMP_PRICE = 1
/** Expected squared error of a donor that is dissolved from or into, over that of the frame’s own: 6 dB, where a plate changes at a stroke far more. */
const MAX_MORE = 4
/** Donors a relay looks at per target frame. */
const RELAY_DONORS = 24

export function holds(matrix: Matrix): Draft[] {
  return matrix.donors.flatMap((donor, column) => {
    const columns = matrix.targets.map(() => column)
    return draft(matrix, 'hold', `hold-${donor.frame}${suffix(donor.plate)}`, donor.plate, null, columns)
  })
}

export function runs(matrix: Matrix): Draft[] {
  return diagonals(
    matrix,
    'run',
    (target, frame) => frame - target,
    (target, offset) => target + offset,
  )
}

export function mirrors(matrix: Matrix): Draft[] {
  if (matrix.targets.length < 2) return []
  return diagonals(
    matrix,
    'mirror',
    (target, frame) => frame + target,
    (target, sum) => sum - target,
  )
}

function diagonals(
  matrix: Matrix,
  kind: 'run' | 'mirror',
  constantOf: (target: number, frame: number) => number,
  donorOf: (target: number, constant: number) => number,
): Draft[] {
  const columnOf = new Map(matrix.donors.map((d, i) => [keyOf(d), i]))
  const first = matrix.targets[0].frame
  return matrix.donors.flatMap((donor) => {
    // Each constant is met once, by the donor of the first target frame.
    const constant = constantOf(first, donor.frame)
    const columns = matrix.targets.map(
      (t) => columnOf.get(keyOf({ plate: donor.plate, frame: donorOf(t.frame, constant) })) ?? -1,
    )
    // Past the plate's end or in a gap there is nothing to lend: dropped, never wrapped.
    if (columns.includes(-1)) return []
    const name = kind === 'run' ? `run${constant < 0 ? '-' : '+'}${Math.abs(constant)}` : `mirror-${constant}`
    const offset = kind === 'run' ? constant : null
    return draft(matrix, kind, `${name}${suffix(donor.plate)}`, donor.plate, offset, columns)
  })
}

/** The cheapest path through the matrix; absent where it never changes its donor, which is a hold. */
export function relays(matrix: Matrix): Draft[] {
  const { targets, donors } = matrix
  if (targets.length < 2) return []
  const path = cheapestPath(matrix, nearestColumns(matrix))
  if (path === null || new Set(path).size === 1) return []
  const shares = dissolved(
    path,
    (t) => targets[t].frame === targets[t - 1].frame + 1,
    (t, column) => servesBeside(matrix, t, column, path[t]),
  )
  const { cost, mean } = overRange(
    shares.map((row, t) => costOfMean(row, (column) => matrix.cost(t, column)).cost),
  )
  return [
    {
      kind: 'relay',
      id: 'relay-1',
      plate: donors[path[0]].plate,
      timeOffset: null,
      cost,
      meanCost: mean,
      shares,
    },
  ]
}

/** The columns that cost least on some target or other: a path leads through no others. */
function nearestColumns(matrix: Matrix): readonly number[] {
  const near = matrix.targets.map((_, t) => {
    const columns = matrix.donors.map((_, d) => d).filter((d) => Number.isFinite(matrix.cost(t, d)))
    return columns.sort((a, b) => matrix.cost(t, a) - matrix.cost(t, b)).slice(0, RELAY_DONORS)
  })
  return [...new Set(near.flat())]
}

/**
 * The column of each target on the path that costs least: what each pair costs, and each change of the donor beside it.
 *
 * @returns null where no path fills the range
 *
 * R. Bellman, Dynamic Programming, 1957.
 */
function cheapestPath(matrix: Matrix, columns: readonly number[]): readonly number[] | null {
  if (columns.length === 0) return null
  const { targets } = matrix
  const jumpPrice = jumpPrices(matrix, columns)
  let total = columns.map((d) => matrix.cost(0, d))
  const back: Int32Array[] = []
  for (let t = 1; t < targets.length; t++) {
    const from = new Int32Array(columns.length)
    const next = columns.map((d, i) => {
      let best = total[i]
      from[i] = i
      for (let j = 0; j < columns.length; j++) {
        const changed = total[j] + CHANGE_PRICE
        // However near that donor lies: of most the jump need not be told.
        if (j === i || changed >= best) continue
        const price = changed + jumpPrice(i, j)
        if (price < best) {
          best = price
          from[i] = j
        }
      }
      return best + matrix.cost(t, d)
    })
    back.push(from)
    total = next
  }
  let at = total.indexOf(Math.min(...total))
  if (!Number.isFinite(total[at])) return null
  const path = [columns[at]]
  for (let t = targets.length - 2; t >= 0; t--) {
    at = back[t][at]
    path.unshift(columns[at])
  }
  return path
}

/** What it costs that two of the columns' donors lie apart, told once each. */
function jumpPrices({ donors, window }: Matrix, columns: readonly number[]) {
  const known = new Float64Array(columns.length ** 2).fill(Number.NaN)
  return (i: number, j: number): number => {
    const at = i * columns.length + j
    if (Number.isNaN(known[at])) {
      const apart = offsetBetween(donors[columns[i]], donors[columns[j]], window)
      known[at] = JUMP_PRICE * Math.hypot(apart.dx, apart.dy)
    }
    return known[at]
  }
}

/** May a donor be mixed into what another lends? Where the plate itself changes at a stroke, none of the other side may. */
function servesBeside(matrix: Matrix, t: number, column: number, own: number): boolean {
  const isClean = (one: number) => (matrix.pair(t, one).clean ?? 0) >= CLEAN_SHARE
  return isClean(column) && isClean(own) && matrix.cost(t, column) <= MAX_MORE * matrix.cost(t, own)
}

/** The mean of the best clean donors. */
export function stacks(matrix: Matrix): Draft[] {
  const { targets, donors } = matrix
  const able = donors.map((_, column) => column).filter((column) => cleanAlways(matrix, column))
  const stack = stackOf(able, targets.length, (t, column) => matrix.cost(t, column))
  if (stack === null) return []
  const { shares, cost, donorsCost } = stack
  const plate = donors[shares[0][0].column].plate
  return [{ kind: 'stack', id: 'stack-1', plate, timeOffset: null, shares, cost, meanCost: cost, donorsCost }]
}

/** Is a donor clean on every target frame? Only such are averaged: one passer-by would ghost into all frames. */
export function cleanAlways(matrix: Matrix, column: number): boolean {
  return matrix.targets.every((_, t) => (matrix.pair(t, column).clean ?? 0) >= CLEAN_SHARE)
}

function draft(
  matrix: Matrix,
  kind: CandidateKind,
  id: string,
  plate: number,
  timeOffset: number | null,
  columns: readonly number[],
): Draft[] {
  const made = draftOf(matrix, kind, id, plate, timeOffset, columns)
  return Number.isFinite(made.cost) ? [made] : []
}

/** One donor per target frame, whatever it costs. */
export function draftOf(
  matrix: Matrix,
  kind: CandidateKind,
  id: string,
  plate: number,
  timeOffset: number | null,
  columns: readonly number[],
): Draft {
  const { cost, mean } = costOf(matrix, columns)
  const shares = columns.map((column) => [{ column, weight: 1 }])
  return { kind, id, plate, timeOffset, cost, meanCost: mean, shares }
}

/** What one donor costs that is held over the range: with the worst frame weighing more, and the mean of all. */
export function heldCost(matrix: Matrix, column: number): { cost: number; mean: number } {
  return costOf(
    matrix,
    matrix.targets.map(() => column),
  )
}

function costOf(matrix: Matrix, columns: readonly number[]): { cost: number; mean: number } {
  return overRange(columns.map((column, t) => matrix.cost(t, column)))
}

/** Donor plates after the first are told apart in the id. */
function suffix(plate: number): string {
  return plate === 0 ? '' : `.p${plate + 1}`
}
