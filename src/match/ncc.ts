// Weighted zero-mean correlation. J. P. Lewis, Fast Normalized Cross-Correlation, 1995, eq. 2, with weights;
// differs: sums in one pass over the pixels, no Fourier transform, and flat pictures have no answer instead of 0/0.

import { pairSums } from '../kernels/pair-sums.js'
import type { Workspace } from '../kernels/workspace.js'

/** Sums over the pixels that both pictures validity; everything that compares two pictures derives from them. */
export interface PairSums {
  /** Sum of weights. */
  readonly weight: number
  readonly target: number
  readonly donor: number
  readonly targetSquared: number
  readonly donorSquared: number
  readonly product: number
  /** Of target minus donor, as they are. */
  readonly squareDifference: number
}

/**
 * A picture whose weighted variance is below this share of its weighted mean square is flat: what is left after
 * centring float32 samples is rounding (2^-24 relative, squared, with a margin for sums over a million pixels).
 */
const FLAT_RELATIVE = 1e-10
/** Least variance in stops squared that can carry texture; a thousandth of a stop RMS is below any camera's grain. */
const FLAT_ABSOLUTE = 1e-8

/**
 * Weighted zero-mean normalised cross-correlation of two equally sized pictures.
 *
 * @param target  log2 luminance, row-major, length width * height
 * @param donor   the same, already moved onto the target by (dx, dy)
 * @param weight  0 or more per pixel; 0 leaves the pixel out (its samples may then be anything, even NaN)
 * @returns -1 to 1, or null where either picture has no contrast under the weights
 *
 * J. P. Lewis, Fast Normalized Cross-Correlation, 1995, eq. 2, with weights.
 */
export function weightedNcc(
  workspace: Workspace,
  target: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  weight: Readonly<Float32Array>,
): number | null {
  return nccOfSums(sumPair(workspace, target, donor, weight))
}

/** The correlation of accumulated sums; null where either side is flat or nothing is valid. */
export function nccOfSums(sums: PairSums): number | null {
  const { weight } = sums
  if (!(weight > 0)) return null
  const varTarget = sums.targetSquared - (sums.target * sums.target) / weight
  const varDonor = sums.donorSquared - (sums.donor * sums.donor) / weight
  if (isFlat(varTarget, sums.targetSquared, weight) || isFlat(varDonor, sums.donorSquared, weight))
    return null
  const ncc = (sums.product - (sums.target * sums.donor) / weight) / Math.sqrt(varTarget * varDonor)
  return Number.isFinite(ncc) ? Math.max(-1, Math.min(1, ncc)) : null
}

/**
 * Mean of target minus donor: the stops between them where the samples are log2 luminance; null: nothing valid, or
 * something valid is not finite.
 */
export function stopsOfSums(sums: PairSums): number | null {
  return sums.weight > 0 ? finite((sums.target - sums.donor) / sums.weight) : null
}

/** RMS of target minus donor after their mean difference is taken out; null as for stopsOfSums. */
export function residualOfSums(sums: PairSums): number | null {
  if (!(sums.weight > 0)) return null
  const mean = (sums.target - sums.donor) / sums.weight
  const square = (sums.targetSquared - 2 * sums.product + sums.donorSquared) / sums.weight
  return finite(Math.sqrt(Math.max(0, square - mean * mean)))
}

/**
 * A list of samples about their mean, so that sums in float32 don't cancel where texture is faint and the level high.
 * What is not valid is 0.
 */
export interface Centred {
  readonly base: number
  readonly samples: Float32Array
}

/**
 * @param validity not 0 where a sample may be used; absent: everywhere
 * @param into  where the samples about their mean go; as many
 */
export function centred(
  values: Readonly<Float32Array>,
  validity?: Readonly<Float32Array> | Readonly<Uint8Array>,
  into: Float32Array = new Float32Array(values.length),
): Centred {
  let sum = 0
  let n = 0
  for (let i = 0; i < values.length; i++) {
    if (validity !== undefined && validity[i] === 0) continue
    sum += values[i]
    n++
  }
  const base = n > 0 ? sum / n : 0
  for (let i = 0; i < values.length; i++)
    into[i] = validity !== undefined && validity[i] === 0 ? 0 : values[i] - base
  return { base, samples: into }
}

/**
 * The sums of a pair in one pass, both pictures taken about the target's mean.
 *
 * @param weight of the target's pixels, 0 or more
 * @param validity  1 where the donor's pixel may be used, 0 where not; absent: everywhere
 */
export function sumCentred(
  workspace: Workspace,
  target: Centred,
  donor: Centred,
  weight: Readonly<Float32Array>,
  validity?: Readonly<Uint8Array>,
): PairSums {
  const sums = noSums()
  laySums(
    pairSums(workspace, target.samples, donor.samples, weight, validity),
    0,
    donor.base - target.base,
    sums,
  )
  return sums
}

/** Sums that are laid anew for one pair after the other: of a search they are millions. */
export type LaidSums = { -readonly [K in keyof PairSums]: PairSums[K] }

export function noSums(): LaidSums {
  return {
    weight: 0,
    target: 0,
    donor: 0,
    targetSquared: 0,
    donorSquared: 0,
    product: 0,
    squareDifference: 0,
  }
}

/**
 * Sums of a pair of pictures that are taken each about its own mean, about the target's.
 *
 * @param sums what `pairSums` has, from `at` on
 * @param base the donor's mean less the target's
 */
export function laySums(sums: ArrayLike<number>, at: number, base: number, into: LaidSums): void {
  const w = sums[at]
  const st = sums[at + 1]
  const sd = sums[at + 2]
  const stt = sums[at + 3]
  const sdd = sums[at + 4]
  const see = sums[at + 5]
  into.weight = w
  into.target = st
  into.donor = sd + base * w
  into.targetSquared = stt
  into.donorSquared = sdd + 2 * base * sd + base * base * w
  into.product = (stt + sdd - see) / 2 + base * st
  into.squareDifference = see - 2 * base * (st - sd) + base * base * w
}

/** Adds those of other pixels of the same pair. */
export function addSums(into: LaidSums, other: PairSums): void {
  into.weight += other.weight
  into.target += other.target
  into.donor += other.donor
  into.targetSquared += other.targetSquared
  into.donorSquared += other.donorSquared
  into.product += other.product
  into.squareDifference += other.squareDifference
}

/** As `sumCentred`, of samples as they are; those without weight or validity may be anything, even NaN. */
export function sumPair(
  workspace: Workspace,
  target: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  weight: Readonly<Float32Array>,
  validity?: Readonly<Uint8Array>,
): PairSums {
  const used = weight.map((w, i) => (validity?.[i] === 0 ? 0 : w))
  return sumCentred(workspace, centred(target, used), centred(donor, used), used)
}

function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null
}

function isFlat(variance: number, square: number, weight: number): boolean {
  return !(variance > FLAT_RELATIVE * square && variance > FLAT_ABSOLUTE * weight)
}
