// Zlib streams.
import type { Workspace } from './workspace.js'

/**
 * Inflates a zlib stream that must not be larger than `out`.
 *
 * @param data any bytes
 * @param out  of the workspace if it is not to be copied out of it
 * @returns how many bytes it makes; null where it is broken, does not match its checksum, or makes more than there is room for
 */
export function inflate(workspace: Workspace, data: Readonly<Uint8Array>, out: Uint8Array): number | null {
  return workspace.run((kernels, room) => {
    const made = kernels.inflate(
      room.read(data),
      data.length,
      room.write(out),
      out.length,
      room.space(kernels.inflateRoom()),
    )
    return made < 0 ? null : made
  })
}
