// Ink laid over an opaque picture.
import type { Workspace } from './workspace.js'

/** Pixels that are laid in one call. */
const AT_ONCE = 1 << 17

/**
 * Where there is ink, `over` in float32, cut to a code.
 *
 * @param samples 8-bit RGB, changed
 * @param ink     8-bit RGBA of as many pixels; colours are not premultiplied
 */
export function layInk(workspace: Workspace, samples: Uint8Array, ink: Readonly<Uint8Array>): void {
  const pixels = ink.length / 4
  for (let from = 0; from < pixels; from += AT_ONCE) {
    const to = Math.min(pixels, from + AT_ONCE)
    workspace.run((kernels, room) =>
      kernels.layInk(
        room.change(samples.subarray(3 * from, 3 * to)),
        room.read(ink.subarray(4 * from, 4 * to)),
        to - from,
      ),
    )
  }
}
