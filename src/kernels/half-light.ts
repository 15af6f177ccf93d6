// A picture in half floats as light, as it is and brought down by a whole factor.
import type { Workspace } from './workspace.js'

/**
 * Means over factor x factor pixels in linear light, for which what is no number counts as black and infinity as 65,536.
 * Rows and columns at the end that don't fill a pixel are left out.
 *
 * @param halves RGB, interleaved, `width` pixels a row
 * @param out    receives floor(width / factor) pixels a row, as many rows as there is room for
 */
export function halfLight(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  width: number,
  factor: number,
  out: Float32Array,
): void {
  const columns = 3 * Math.floor(width / factor)
  const band = 3 * width * factor
  for (let to = 0, from = 0; to < out.length; to += columns, from += band) {
    workspace.run((kernels, room) =>
      kernels.halfLight(
        room.read(halves.subarray(from, from + band)),
        width,
        factor,
        room.space(4 * 3 * width),
        room.write(out.subarray(to, to + columns)),
      ),
    )
  }
}

/** Samples that are turned into values in one call. */
const AT_ONCE = 1 << 18

/**
 * The values of rows of halves, NaN and infinity among them; every half is a float32.
 *
 * @param pitch halves from one row to the next
 * @param count of a row that are wanted
 * @param out   [rows, count]
 */
export function halfValues(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  pitch: number,
  count: number,
  out: Float32Array,
): void {
  const rows = out.length / count
  const band = Math.max(1, Math.floor(AT_ONCE / pitch))
  for (let row = 0; row < rows; row += band) {
    const some = Math.min(band, rows - row)
    workspace.run((kernels, room) =>
      kernels.halfValues(
        room.read(halves.subarray(row * pitch, (row + some - 1) * pitch + count)),
        pitch,
        count,
        some,
        room.write(out.subarray(row * count, (row + some) * count)),
      ),
    )
  }
}
