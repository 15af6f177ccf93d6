// Many short columns of samples sorted at once.
import type { Workspace } from './workspace.js'

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
