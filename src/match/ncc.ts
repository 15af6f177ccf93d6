// Weighted zero-mean correlation. J. P. Lewis, Fast Normalized Cross-Correlation, 1995, eq. 2, with weights;
// differs: sums in one pass over the pixels, no Fourier transform, and flat pictures have no answer instead of 0/0.

/** Sums over the pixels that both pictures trust; everything that compares two pictures derives from them. */
export interface PairSums {
  /** Sum of weights. */
  readonly weight: number
  readonly target: number
  readonly donor: number
  readonly targetSquared: number
  readonly donorSquared: number
  readonly product: number
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
  target: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  weight: Readonly<Float32Array>,
): number | null {
  return nccOfSums(sumPair(target, donor, weight))
}

/** The correlation of accumulated sums; null where either side is flat or nothing is trusted. */
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
 * Mean of target minus donor: the stops between them where the samples are log2 luminance; null: nothing trusted, or
 * something trusted is not finite.
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
 * The sums of a pair in one pass, both pictures taken about the target's first trusted sample.
 *
 * @param trust 1 where the donor's pixel may be used, 0 where not; absent: everywhere
 */
export function sumPair(
  target: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  weight: Readonly<Float32Array>,
  trust?: Readonly<Uint8Array>,
): PairSums {
  let first = 0
  while (first < weight.length && (weight[first] === 0 || trust?.[first] === 0)) first++
  // Centring on a first sample each keeps the variances from cancelling where texture is faint and the level high.
  const targetBase = first < weight.length ? target[first] : 0
  const donorBase = first < weight.length ? donor[first] : 0
  let w = 0
  let st = 0
  let sd = 0
  let stt = 0
  let sdd = 0
  let std = 0
  for (let i = first; i < weight.length; i++) {
    const wi = weight[i]
    if (wi === 0 || (trust !== undefined && trust[i] === 0)) continue
    const t = target[i] - targetBase
    const d = donor[i] - donorBase
    const wt = wi * t
    const wd = wi * d
    w += wi
    st += wt
    sd += wd
    stt += wt * t
    sdd += wd * d
    std += wt * d
  }
  const base = donorBase - targetBase
  return {
    weight: w,
    target: st,
    donor: sd + base * w,
    targetSquared: stt,
    donorSquared: sdd + 2 * base * sd + base * base * w,
    product: std + base * st,
  }
}

function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null
}

function isFlat(variance: number, square: number, weight: number): boolean {
  return !(variance > FLAT_RELATIVE * square && variance > FLAT_ABSOLUTE * weight)
}
