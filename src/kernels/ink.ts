// Ink laid over an opaque picture.
import type { Rect } from '../raster/rect.js'
import type { Workspace } from './workspace.js'

/** Rows that are laid in one call. */
const ROWS = 128

/**
 * Where there is ink, `over` in float32, cut to a code.
 *
 * @param samples 8-bit RGB, `width` pixels a row, changed
 * @param rect    where the ink lies, within the picture
 * @param ink     8-bit RGBA, [rect.h, rect.w]; colours are not premultiplied
 */
export function layInk(
  workspace: Workspace,
  samples: Uint8Array,
  width: number,
  { x, y, w, h }: Rect,
  ink: Readonly<Uint8Array>,
): void {
  for (let from = 0; from < h; from += ROWS) {
    const rows = Math.min(ROWS, h - from)
    const part = samples.subarray(3 * width * (y + from), 3 * width * (y + from + rows))
    workspace.run((kernels, room) =>
      kernels.layInk(
        room.change(part) + 3 * x,
        3 * width,
        room.read(ink.subarray(4 * w * from, 4 * w * (from + rows))),
        w,
        rows,
      ),
    )
  }
}
