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

/**
 * White noise that a field becomes by and by: `carried` times the field, and as much of the noise as leaves the variance as it is.
 *
 * @param state   of the noise, as whiteNoise has it
 * @param carried 0 to 1
 * @param out     of the field's size
 */
export function carryOn(
  workspace: Workspace,
  field: Readonly<Float32Array>,
  carried: number,
  state: number,
  out: Float32Array,
): void {
  workspace.run((kernels, room) => {
    const white = room.space(out.byteLength)
    kernels.whiteNoise(state, white, out.length)
    const rest = Math.sqrt(1 - carried * carried)
    kernels.carryOn(room.read(field), carried, white, rest, room.write(out), out.length)
  })
}

/** How noise goes with light: a standard deviation of `level * max(darkest, light) ** power`. */
export interface NoiseLaw {
  readonly level: readonly number[]
  readonly power: readonly number[]
  readonly darkest: number
}

/**
 * Adds noise to a picture as its own samples' light has it; where a channel's noise is 0 a sample stays bit for bit. Powers are right
 * to 5e-7 of themselves.
 *
 * @param data       RGB, interleaved
 * @param components fields that the noise is mixed of; null: there is none
 * @param mix        3 x 3: row c has what channel c takes of each
 */
export function layNoise(
  workspace: Workspace,
  data: Float32Array,
  components: readonly (Readonly<Float32Array> | null)[],
  mix: Readonly<Float64Array>,
  { level, power, darkest }: NoiseLaw,
): void {
  workspace.run((kernels, room) => {
    const [first, second, third] = components.map((field) => (field === null ? 0 : room.read(field)))
    kernels.layNoise(
      room.change(data),
      first,
      second,
      third,
      room.read(Float32Array.from(mix)),
      room.read(Float32Array.from(level)),
      room.read(Float32Array.from(power)),
      darkest,
      data.length / 3,
    )
  })
}
