// Samples sorted by their digits; many short columns of them sorted at once, and what most of each agree on.
import type { Workspace } from './workspace.js'

/** Room that digits are counted in: three of 11 bits. */
const COUNTS_BYTES = 3 * 4 * 2 ** 11

/** In place, ascending, -0 before 0. @param samples no NaN */
export function sortSamples(workspace: Workspace, samples: Float32Array): void {
  workspace.run((kernels, room) =>
    kernels.sortSamples(
      room.change(samples),
      samples.length,
      room.space(samples.byteLength),
      room.space(COUNTS_BYTES),
    ),
  )
}

/**
 * Sorts the samples of each of `columns` pixels (a multiple of 4) over all pictures, ascending; holes come last.
 *
 * @param rows       `columns` samples per picture
 * @param validities as many bytes, 0 for a hole
 * @param exposures  added to a picture's samples, one per picture
 * @param sorted     receives, per pixel, a sample per picture
 * @param seen       receives per pixel how many are no holes
 */
export function sortColumns(
  workspace: Workspace,
  rows: Readonly<Float32Array>,
  validities: Readonly<Uint8Array>,
  exposures: Readonly<Float32Array>,
  columns: number,
  sorted: Float32Array,
  seen: Int32Array,
): void {
  const { length } = exposures
  workspace.run((kernels, room) =>
    kernels.sortColumns(
      room.read(rows),
      room.read(validities),
      room.read(exposures),
      columns,
      length,
      room.space(16 * length),
      room.write(sorted),
      room.write(seen),
    ),
  )
}

/** What a group of samples is: see `src/match/clean-plate.ts`. */
export interface Agreement {
  /** Fewer samples than this show none. */
  readonly few: number
  readonly share: number
  readonly lengthSigma: number
  readonly widthSigma: number
  /** Sigma at least. */
  readonly least: number
}

/**
 * Per column the mean of its largest agreeing group, the group's standard deviation about it, its share of the samples, and how
 * far from the mean the nearest half of all samples reach. Of a column with few samples the level is its first, or 0, and
 * nothing else is written.
 *
 * @param sorted the same number of samples per column, ascending
 * @param seen   how many of each count
 * @param level, spread, support, half a sample per column
 */
export function agreeingGroups(
  workspace: Workspace,
  sorted: Readonly<Float32Array>,
  seen: Readonly<Int32Array>,
  { few, share, lengthSigma, widthSigma, least }: Agreement,
  level: Float32Array,
  spread: Float32Array,
  support: Float32Array,
  half: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.agreeingGroups(
      room.read(sorted),
      room.read(seen),
      level.length,
      sorted.length / seen.length,
      few,
      share,
      lengthSigma,
      widthSigma,
      least,
      room.change(level),
      room.change(spread),
      room.change(support),
      room.change(half),
    ),
  )
}
