// The finest of one picture put in the place of another's.
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

/** A plane each. */
export type Planes = readonly [red: Float32Array, green: Float32Array, blue: Float32Array]

/**
 * `change` times what a donor differs by where a pixel counts, else 0.
 *
 * @param own,donor interleaved RGB
 * @param counts    1 or 0 per pixel
 * @param more      receives it
 */
export function finestOf(
  workspace: Workspace,
  own: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  counts: Readonly<Float32Array>,
  change: number,
  [red, green, blue]: Planes,
): void {
  workspace.run((kernels, room) =>
    kernels.finestOf(
      room.read(own),
      room.read(donor),
      room.read(counts),
      change,
      room.write(red),
      room.write(green),
      room.write(blue),
      counts.length,
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
  [red, green, blue]: Readonly<Planes>,
  [lightRed, lightGreen, lightBlue]: Readonly<Planes>,
  around: Readonly<Float32Array>,
  counts: Readonly<Float32Array>,
  own: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addFinest(
      room.read(red),
      room.read(green),
      room.read(blue),
      room.read(lightRed),
      room.read(lightGreen),
      room.read(lightBlue),
      room.read(around),
      room.read(counts),
      room.change(own),
      counts.length,
    ),
  )
}
