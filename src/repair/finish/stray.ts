// How far the plate itself strays from 1, where it has no patch: a codec changes one place more than another, and now more, now
// less, and what strays no further than that tells nothing of a patch.
import { recordOf } from '../../search/measures.js'
import type { SideChange } from './change.js'
import type { CellSums } from './pair.js'

/** Standard deviations of natural logarithms of ratios of standard deviations. */
export interface Stray {
  readonly flicker: number
  readonly noise: number
}

/** Of one frame against the one before, and of all frames together. */
export interface Strays {
  readonly frame: Stray
  readonly all: Stray
}

/** Variances of what changes over the grain's, of green. */
export type Changed = Pick<SideChange, 'flicker'> & { readonly noise: number }

/** What is held against each other in one pair of frames. */
export interface StrayPair {
  readonly ring: Changed
  /** The ring's four sides, in the same order in all pairs; null where too little of one is seen. */
  readonly sides: readonly (Changed | null)[]
}

/** The ring's sides: on the left, on the right, above, below. */
export const RING_SIDES = [0, 1, 2, 3] as const
/** A side that stands still, or one beside a still ring, counts as one that changes by twelve times less, or more. */
const MOST = Math.log(12)
/**
 * What a place of a coded plate comes to at one time and at another differs by so much, RMS of natural logarithms of standard
 * deviations: less is chance.
 */
export const OVER_TIME = 0.1

export function changedOf({ flicker, noise }: SideChange): Changed {
  return { flicker, noise: noise[1] }
}

const MEASURES = ['flicker', 'noise'] as const

/**
 * What the ring's sides stray from each other by, as a patch would from the ring; or what the plate's own frames do that show the
 * region empty, where that is less: sides differ in their surface, too.
 *
 * @param own what those frames stray by from pair to pair; null: not known
 * @returns null where no pair has two sides that tell
 */
export function straysOf(pairs: readonly StrayPair[], own: Stray | null): Strays | null {
  const told = pairs.filter(({ sides }) => sides.filter((s) => s !== null).length > 1)
  if (told.length === 0) return null
  const frame = (measure: keyof Stray) =>
    Math.sqrt(told.reduce((sum, pair) => sum + sideVariance([pair], measure), 0) / told.length)
  // What lasts is told by four sides alone, so by chance as less than it is: never as less than what comes and goes leaves.
  const all = (measure: keyof Stray) =>
    Math.max(Math.sqrt(sideVariance(told, measure)), frame(measure) / Math.sqrt(told.length))
  const ofOwn = (measure: keyof Stray, among: number) =>
    own === null ? Number.POSITIVE_INFINITY : Math.hypot(own[measure] / Math.sqrt(among), OVER_TIME)
  const both = (of: (measure: keyof Stray) => number) => recordOf(MEASURES, of)
  return {
    frame: both((m) => Math.min(frame(m), ofOwn(m, 1))),
    all: both((m) => Math.min(all(m), ofOwn(m, pairs.length))),
  }
}

/** How a ratio of variances strays from 1, as the logarithm of a ratio of standard deviations. */
export function strayOf(one: number, other: number): number {
  if (!(one > 0) || !(other > 0)) return one > 0 ? MOST : other > 0 ? -MOST : 0
  return Math.min(MOST, Math.max(-MOST, Math.log(one / other) / 2))
}

/** The spread of some numbers, squared; of one there is none. */
export function sampleVariance(values: readonly number[]): number {
  const mean = values.reduce((sum, v) => sum + v, 0) / values.length
  return values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / Math.max(1, values.length - 1)
}

/** Variance of one place against a ring of as many as there are sides, over some pairs together. */
function sideVariance(pairs: readonly StrayPair[], measure: keyof Stray): number {
  const strays = RING_SIDES.flatMap((side) => {
    const seen = pairs.flatMap(({ sides, ring }) => {
      const own = sides[side]
      return own ? [{ own: own[measure], ring: ring[measure] }] : []
    })
    const total = (of: 'own' | 'ring') => seen.reduce((sum, each) => sum + each[of], 0)
    return seen.length > 0 ? [strayOf(total('own'), total('ring'))] : []
  })
  return strays.length > 1 ? sampleVariance(strays) * (1 + 1 / strays.length) : 0
}

/** By cell the side of the patch on which it lies: by the diagonals of the box round the patch's cells. */
export function sidesRound({ count }: CellSums, columns: number): Uint8Array {
  let [left, right, top, bottom] = [columns, -1, count.length, -1]
  for (let k = 0; k < count.length; k++) {
    if (count[k] === 0) continue
    const [x, y] = [k % columns, Math.floor(k / columns)]
    left = Math.min(left, x)
    right = Math.max(right, x)
    top = Math.min(top, y)
    bottom = Math.max(bottom, y)
  }
  const out = new Uint8Array(count.length)
  for (let k = 0; k < count.length; k++) {
    const across = ((k % columns) - (left + right) / 2) / (right - left + 1)
    const down = (Math.floor(k / columns) - (top + bottom) / 2) / (bottom - top + 1)
    out[k] = Math.abs(across) > Math.abs(down) ? (across < 0 ? 0 : 1) : down < 0 ? 2 : 3
  }
  return out
}
