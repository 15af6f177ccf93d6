// A target frame less what its donors lend, at each pixel along the border of its mask.
import type { Registered } from '../register.js'
import type { Border } from './beside-mask.js'

/** A target frame against a donor at each pixel of the border. */
export interface Compared {
  readonly border: Border
  /** Target less donor, the light matched, stops; NaN where nothing is seen in the target, or somebody passes in the donor. */
  readonly difference: Float32Array
  /** What grain alone gives of its square. */
  readonly variance: Float32Array
  /** 1 where nobody passes in the target. */
  readonly steady: Uint8Array
}

/** A target frame at the places of its border on the grid, -1 where nothing is seen; 1 of the grid where nobody passes in it. */
export interface Own {
  readonly target: Registered
  readonly steady: Readonly<Uint8Array>
  readonly places: Readonly<Int32Array>
}

export interface Lender {
  readonly donor: Registered
  /** As Own has it. */
  readonly steady: Readonly<Uint8Array>
  /** Per pixel of the border whose it is; null: this lender's. */
  readonly pieces: Readonly<Int32Array> | null
  readonly piece: number
}

/** The target less what one of its donors lends. Arrays are looked up once: this runs for every candidate on every frame. */
export function subtractLent(
  { difference, variance, steady }: Compared,
  { target, steady: isOwn, places }: Own,
  { donor, steady: isLent, pieces, piece }: Lender,
  spread: Readonly<Float32Array>,
): void {
  const [mine, lent] = [target.aligned, donor.aligned]
  const [exposure, lentExposure] = [target.exposure, donor.exposure]
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    // Who passes beside the region in the donor is not lent.
    if (i < 0 || (pieces !== null && pieces[k] !== piece) || isLent[i] === 0) continue
    difference[k] = mine[i] + exposure - (lent[i] + lentExposure)
    variance[k] = 2 * spread[i] ** 2
    if (isOwn[i] !== 0) steady[k] = 1
  }
}

/** Takes off what differs all over, told where nobody passes. @returns false where that is nowhere */
export function takeMeanOff(difference: Float32Array, steady: Readonly<Uint8Array>): boolean {
  let sum = 0
  let n = 0
  for (let k = 0; k < difference.length; k++) {
    if (steady[k] === 0) continue
    sum += difference[k]
    n++
  }
  for (let k = 0; k < difference.length; k++) difference[k] -= sum / n
  return n > 0
}
