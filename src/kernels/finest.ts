// The finest of one picture put in the place of another's, a channel at a time.
import type { Workspace } from './workspace.js'

/** Writes 1 per pixel where a mask is above 0 and both bytes are 1, else 0. */
export function commonPixels(
  workspace: Workspace,
  inside: Readonly<Float32Array>,
  there: Readonly<Uint8Array>,
  also: Readonly<Uint8Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.commonPixels(room.read(inside), room.read(there), room.read(also), room.write(out), out.length),
  )
}

/**
 * `change` times what a donor differs by where a pixel counts, else 0.
 *
 * @param own,donor interleaved RGB
 * @param counts    1 or 0 per pixel
 * @param more      receives a plane
 */
export function finestOf(
  workspace: Workspace,
  own: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  counts: Readonly<Float32Array>,
  channel: 0 | 1 | 2,
  change: number,
  more: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.finestOf(
      room.read(own),
      room.read(donor),
      room.read(counts),
      channel,
      change,
      room.write(more),
      more.length,
    ),
  )
}

/**
 * Adds it to where it differs from, less its mean over the pixels round about that count.
 *
 * @param light  mean of it over all round about
 * @param around share of those that count, above 0 where one does
 */
export function addFinest(
  workspace: Workspace,
  more: Readonly<Float32Array>,
  light: Readonly<Float32Array>,
  around: Readonly<Float32Array>,
  counts: Readonly<Float32Array>,
  channel: 0 | 1 | 2,
  own: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addFinest(
      room.read(more),
      room.read(light),
      room.read(around),
      room.read(counts),
      channel,
      room.change(own),
      more.length,
    ),
  )
}
