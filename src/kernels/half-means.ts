// A picture in half floats, brought down by a whole factor.
import { floatsToHalves, HALF_NAN } from '../raster/half.js'
import type { Workspace } from './workspace.js'

/**
 * Means over factor x factor pixels in linear light, of what of each is finite. Rows and columns at the end that don't fill a
 * pixel are left out.
 *
 * @param halves RGB, interleaved, `width` pixels a row
 * @param out    receives floor(width / factor) pixels a row, as many rows as there is room for; NaN where nothing is finite
 */
export function halfMeans(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  width: number,
  factor: number,
  out: Uint16Array,
): void {
  const columns = 3 * Math.floor(width / factor)
  const band = 3 * width * factor
  const means = new Float32Array(columns)
  const found = new Uint8Array(columns)
  for (let to = 0, from = 0; to + columns <= out.length; to += columns, from += band) {
    workspace.run((kernels, room) =>
      kernels.halfMeans(
        room.read(halves.subarray(from, from + band)),
        width,
        factor,
        room.space(12 * width),
        room.space(12 * width),
        room.write(means),
        room.write(found),
      ),
    )
    floatsToHalves(means, out.subarray(to, to + columns))
    for (let i = 0; i < columns; i++) if (found[i] === 0) out[to + i] = HALF_NAN
  }
}
