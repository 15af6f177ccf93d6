// How many pictures the page may carry, and how good they are: it has to fit into a mail and open at once.
import { CODINGS, type Coding } from '../html/encode.js'

/** The whole page, bytes. A page of 24 candidates over 24 frames must stay under 12 million. */
export const PAGE_BYTES = 11_500_000
/** Base64 writes three bytes as four characters. */
export const BASE64 = 4 / 3
/** Estimates come from the candidates' weakest frames; the rest may be this much larger. */
const SAFETY = 1.06

export interface Plan {
  readonly coding: Coding
  /** how many of the candidates that play, from the best, carry what they play; the others carry their weakest alone */
  readonly ways: number
  /** every which target frame they carry; 1 is all */
  readonly step: number
}

/** Mean bytes of a target frame, which all candidates share, and of what one lends to it. */
export interface Weight {
  readonly target: number
  readonly lent: number
}

/** What pictures weigh under a coding; asked for the best first, as finding out takes time. */
export type Weigh = (coding: Coding) => Promise<Weight>

/** What there is to carry. */
export interface Wanted {
  /** How many frames each of the candidates is to have that play, best first, */
  readonly playing: readonly number[]
  /** and how many show one frame alone. */
  readonly alone: number
  /** Target frames. */
  readonly frames: number
}

/**
 * The best coding under which every frame of every candidate that plays fits; under the last one as many of the best of
 * them as fit; and where not even one does, that one with frames left out.
 *
 * @param room bytes left for the frames
 */
export async function planFrames(
  { playing, alone, frames }: Wanted,
  room: number,
  weigh: Weigh,
): Promise<Plan> {
  // Whoever has no room for all frames still carries one, its weakest, and the target under it.
  const fits = (played: readonly number[], count: number, { target, lent }: Weight) => {
    const all = count * target + played.reduce((sum, frames) => sum + frames, 0) * lent
    return (all + (playing.length + alone - played.length) * (target + lent)) * BASE64 * SAFETY <= room
  }
  if (playing.length + alone === 0) return { coding: CODINGS[0], ways: 0, step: 1 }
  let weight: Weight = { target: 0, lent: 0 }
  for (const coding of CODINGS) {
    weight = await weigh(coding)
    if (fits(playing, frames, weight)) return { coding, ways: playing.length, step: 1 }
  }
  const coding = CODINGS[CODINGS.length - 1]
  for (let ways = playing.length - 1; ways > 0; ways--) {
    if (fits(playing.slice(0, ways), frames, weight)) return { coding, ways, step: 1 }
  }
  for (let step = 2; step < frames; step++) {
    const count = Math.ceil(frames / step)
    if (fits([count], count, weight)) return { coding, ways: 1, step }
  }
  return { coding, ways: 0, step: 1 }
}
