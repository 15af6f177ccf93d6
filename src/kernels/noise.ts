// Noise under filters, mixed into the channels of a picture. Several calls work on the same fields: let these lie in the
// workspace, or they are copied each time.
import type { Workspace } from './workspace.js'

/**
 * Normal noise of variance 1, the same from the same state: mulberry32 under the polar form of Box and Muller, two samples from
 * each pair of even numbers. Samples are right to 2e-16 of themselves before they are rounded to float32.
 */
export function whiteNoise(workspace: Workspace, state: number, out: Float32Array): void {
  workspace.run((kernels, room) => kernels.whiteNoise(state, room.write(out), out.length))
}

/**
 * Adds a field under a filter where it is wanted: `into += takes * sum of weights * field`, in float32. Beyond its edges the
 * field begins again from the other side.
 *
 * @param field   of the size of `into`
 * @param weights an odd number a side, row by row
 * @param takes   per sample; 0 leaves it as it is
 * @param into    of `width` a row
 */
export function addFiltered(
  workspace: Workspace,
  field: Readonly<Float32Array>,
  weights: Readonly<Float32Array>,
  takes: Readonly<Float32Array>,
  into: Float32Array,
  width: number,
): void {
  const side = Math.round(Math.sqrt(weights.length))
  const height = into.length / width
  workspace.run((kernels, room) =>
    kernels.addFiltered(
      room.read(field),
      // A vector may reach beyond the last sample.
      room.space(4 * (width + side) * (height + side) + 16),
      room.read(weights),
      side,
      room.read(takes),
      room.change(into),
      width,
      height,
    ),
  )
}

/** Writes the products of two fields, sample by sample. */
export function products(
  workspace: Workspace,
  a: Readonly<Float32Array>,
  b: Readonly<Float32Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) => kernels.products(room.read(a), room.read(b), room.write(out), out.length))
}

/** Adds `factor` times a field. */
export function addTimes(
  workspace: Workspace,
  field: Readonly<Float32Array>,
  factor: number,
  into: Float32Array,
): void {
  workspace.run((kernels, room) => kernels.addTimes(room.read(field), factor, room.change(into), into.length))
}

/** How noise goes with light: a standard deviation of `level * max(darkest, light) ** power`. */
export interface NoiseLaw {
  readonly level: readonly number[]
  readonly power: readonly number[]
  readonly darkest: number
}

/**
 * Adds noise to a picture as its own samples' light has it; where noise is 0 a sample stays bit for bit. Powers are right to
 * 5e-7 of themselves.
 *
 * @param data  RGB, interleaved
 * @param noise a field for each channel
 */
export function layNoise(
  workspace: Workspace,
  data: Float32Array,
  noise: readonly Readonly<Float32Array>[],
  { level, power, darkest }: NoiseLaw,
): void {
  workspace.run((kernels, room) => {
    const to = room.change(data)
    for (const [c, own] of noise.entries())
      kernels.layNoise(to + 4 * c, room.read(own), own.length, level[c], power[c], darkest)
  })
}
