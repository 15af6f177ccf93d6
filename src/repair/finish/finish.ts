// What of a written patch is seen first in review, in numbers, and how much of each is as it should be.
import type { Strays } from './stray.js'

/** Of one frame; null where there is nothing to tell it by. */
export interface FrameFinish {
  /** Step across the patch's border, in units of what grain alone gives. */
  readonly seam: number | null
  /** Detail inside over that of the donors by themselves, a ratio of standard deviations. */
  readonly detail: number | null
  /** Change from the frame before inside over that of the ring, at the same light, a ratio of standard deviations. */
  readonly flicker: number | null
  /** R, G, B: noise inside over that of the ring, at the same light, a ratio of standard deviations. */
  readonly noise: readonly [number, number, number] | null
  /** Standard error of flicker and of noise, relative, as they are told by few pixels: so much of them may be chance. */
  readonly uncertainty: number | null
}

/** Of all frames together. */
export interface WholeFinish {
  readonly seam: number | null
  readonly flicker: number | null
  readonly noise: readonly [number, number, number] | null
  /** Noise spectrum inside against the ring's, dB. */
  readonly spectrum: number | null
  /** How far flicker and noise stray where the plate has no patch; null: not told. */
  readonly stray: Strays | null
  /** Why something is null, in words; null where nothing is. */
  readonly unmeasured: string | null
}

export interface PatchFinish {
  /** By target frame, in order; of a frame whose mask is black nothing. */
  readonly frames: ReadonlyMap<number, FrameFinish>
  readonly whole: WholeFinish
}

/**
 * What is within these is as the plate is; beyond, somebody should look. A patch that stands still has no flicker, and one of
 * half the plate's is nearer to that than to the plate.
 */
export const FINISH_LIMITS = {
  seam: [0, 1.2],
  detail: [0.9, 1.1],
  flicker: [0.5, 1.1],
  noise: [0.9, 1.1],
} as const

/** So many standard deviations beyond a limit are no chance. */
const SURE = 2

/** A measure's limits where it strays by chance. @param stray standard deviation of its natural logarithm */
export function limitsWith(
  measure: keyof typeof FINISH_LIMITS,
  stray: number,
): [least: number, most: number] {
  const [least, most] = FINISH_LIMITS[measure]
  const room = Math.exp(SURE * stray)
  return [least / room, most * room]
}
