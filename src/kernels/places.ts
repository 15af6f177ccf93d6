// What frames of one surface differ by at each place, and what that says of its grain. Several calls work on the same planes: let
// these lie in the workspace, or they are copied each time.
import type { Workspace } from './workspace.js'

/** Samples from the beginning of a plane of `length` samples to the next one's, where several lie one after the other. */
export function pitchOf(length: number): number {
  return Math.ceil(length / 4) * 4
}

/** Means of two planes, sample by sample. */
export function means(
  workspace: Workspace,
  one: Readonly<Float32Array>,
  two: Readonly<Float32Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) => kernels.means(room.read(one), room.read(two), out.length, room.write(out)))
}

/**
 * What one plane has more than another over `sigma`, in double precision; 0 where that is not above 0, or it comes to no finite
 * number.
 */
export function differencesOver(
  workspace: Workspace,
  one: Readonly<Float32Array>,
  two: Readonly<Float32Array>,
  sigma: Readonly<Float32Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.differencesOver(room.read(one), room.read(two), room.read(sigma), out.length, room.write(out)),
  )
}

/**
 * Of every `step`th trusted pixel what each of several planes has there, where that is more than `least`.
 *
 * @param planes  of the size of `trusted`, a pitch apart
 * @param trusted above 0
 * @param out     receives them, pixel by pixel; room for all
 * @returns how many there are
 */
export function gatherPlaces(
  workspace: Workspace,
  planes: Readonly<Float32Array>,
  trusted: Readonly<Float32Array>,
  step: number,
  least: number,
  out: Float32Array,
): number {
  const { length } = trusted
  return workspace.run((kernels, room) =>
    kernels.gatherPlaces(
      room.read(planes),
      planes.length / pitchOf(length),
      room.read(trusted),
      length,
      step,
      least,
      room.write(out),
    ),
  )
}

/** How variances become factors of a standard deviation. */
export interface Factors {
  /** No variance counts for more. */
  readonly limit: number
  /** The variance whose factor is 1; of 0 there are none. */
  readonly unit: number
  /** No factor is larger. */
  readonly most: number
}

/** @param planes variances, of the size of `out`, a pitch apart */
export function placeFactors(
  workspace: Workspace,
  planes: Readonly<Float32Array>,
  { limit, unit, most }: Factors,
  out: Float32Array,
): void {
  const { length } = out
  workspace.run((kernels, room) =>
    kernels.placeFactors(
      room.read(planes),
      planes.length / pitchOf(length),
      length,
      limit,
      unit,
      most,
      room.write(out),
    ),
  )
}
