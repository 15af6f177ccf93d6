// A whole frame's working picture, smaller.
import type { Working } from './working.js'
import type { Workspace } from './workspace.js'

/**
 * Means of the working picture over factor x factor pixels, row by row, so that nothing as large as the frame is made.
 * Rows and columns at the end that don't fill a pixel are left out.
 *
 * @param halves RGB, interleaved, `width` pixels a row
 * @param out    receives log2(luminance + floor), floor(width / factor) a row, as many rows as there is room for
 * @param known  receives 1 where every pixel is finite and not clipped, else 0
 */
export function shrunk(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  width: number,
  factor: number,
  { weights: [r, g, b], floor, clipHalf, first }: Working,
  out: Float32Array,
  known: Uint8Array,
): void {
  const columns = Math.floor(width / factor)
  const band = 3 * width * factor
  for (let row = 0; row * columns < out.length; row++) {
    const part = halves.subarray(row * band, (row + 1) * band)
    const line = out.subarray(row * columns, (row + 1) * columns)
    const bits = known.subarray(row * columns, (row + 1) * columns)
    workspace.run((kernels, room) =>
      kernels.shrunk(
        room.read(part),
        width,
        factor,
        r,
        g,
        b,
        floor,
        clipHalf,
        first,
        room.space(4 * width),
        room.space(4 * width),
        room.space(width + 16),
        room.space(width + 16),
        room.write(line),
        room.write(bits),
      ),
    )
  }
}
