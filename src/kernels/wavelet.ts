// The wavelet of PIZ, and the table that its words go through.
import type { Workspace } from './workspace.js'

/** Words of one plane: `columns` a row, `step` words apart, in `rows` rows, `pitch` words apart. */
export interface Words {
  /** From the first word on. */
  readonly data: Uint16Array
  readonly columns: number
  readonly step: number
  readonly rows: number
  readonly pitch: number
}

/**
 * Undoes the two-dimensional Haar wavelet in place; only some columns are right afterwards.
 *
 * @param highest largest word that was transformed: below 2^14 sums keep their sign, above they wrap
 * @param from    first column that is wanted, and `to` behind the last
 */
export function undoWavelet(
  workspace: Workspace,
  { data, columns, step, rows, pitch }: Words,
  highest: number,
  from: number,
  to: number,
): void {
  workspace.run((kernels, room) =>
    kernels.undoWavelet(room.change(data), columns, step, rows, pitch, highest, from, to),
  )
}

/**
 * Puts words through a table, in place: `count` of each of `rows` rows that lie `pitch` words apart.
 *
 * @param table 65536 words
 */
export function lookUp(
  workspace: Workspace,
  words: Uint16Array,
  count: number,
  rows: number,
  pitch: number,
  table: Uint16Array,
): void {
  workspace.run((kernels, room) => kernels.lookUp(room.change(words), count, rows, pitch, room.read(table)))
}
