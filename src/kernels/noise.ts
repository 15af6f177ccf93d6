// Noise under a filter.
import type { Workspace } from './workspace.js'

/** A field with samples round it. */
export interface Surrounded {
  readonly data: Readonly<Float32Array>
  readonly stride: number
}

/**
 * Adds a field under a filter where it is wanted: `into += takes * sum of weights * field`, in float32.
 *
 * @param field   `into` with the filter's radius more on every side
 * @param weights an odd number a side, row by row
 * @param takes   per sample; 0 leaves it as it is
 * @param into    of `width` a row
 */
export function addFiltered(
  workspace: Workspace,
  { data, stride }: Surrounded,
  weights: Readonly<Float32Array>,
  takes: Readonly<Float32Array>,
  into: Float32Array,
  width: number,
): void {
  const side = Math.round(Math.sqrt(weights.length))
  workspace.run((kernels, room) =>
    kernels.addFiltered(
      room.read(data),
      stride,
      room.read(weights),
      side,
      room.read(takes),
      room.change(into),
      width,
      into.length / width,
    ),
  )
}
