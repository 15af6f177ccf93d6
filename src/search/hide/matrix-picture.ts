// The match matrix as it is looked at: 0 to 100 a pair, 100 the best there is.
import { keyOf } from '../../shot/frame-key.js'
import type { Shot } from '../../shot/open-shot.js'
import type { EarlyMatrix } from '../events.js'
import type { Result } from '../result.js'
import type { Matrix } from './matrix.js'

/** All pairs, as the result has them. */
export function pictureOf(matrix: Matrix): NonNullable<Result['matrix']> {
  return {
    targets: matrix.targets.map((t) => t.frame),
    donors: matrix.donors.map((d) => ({ plate: d.plate, frame: d.frame })),
    quality: matrix.targets.map((_, t) => matrix.donors.map((_, d) => qualityOf(matrix, t, d))),
  }
}

/** The pairs that were looked at, placed among all that there will be. */
export function earlyPicture(
  matrix: Matrix,
  { frames, donors }: Pick<Shot, 'frames' | 'donors'>,
): EarlyMatrix {
  const rowOf = new Map(frames.map((frame, i) => [frame, i]))
  const columnOf = new Map(donors.map((key, i) => [keyOf(key), i]))
  const cells = matrix.targets.flatMap((target, t) =>
    matrix.donors.map(
      (donor, d) => [rowOf.get(target.frame)!, columnOf.get(keyOf(donor))!, qualityOf(matrix, t, d)] as const,
    ),
  )
  return { targets: frames, donors: donors.map(({ plate, frame }) => [plate, frame] as const), cells }
}

function qualityOf(matrix: Matrix, t: number, d: number): number | null {
  const cost = matrix.cost(t, d)
  return Number.isFinite(cost) ? Math.round(100 * Math.exp(-0.25 * Math.max(0, Math.sqrt(cost) - 1))) : null
}
