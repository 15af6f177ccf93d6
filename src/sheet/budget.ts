// How many pictures the page may carry, and how good they are: it has to fit into a mail and open at once.

/** The whole page, bytes. A page of 24 candidates over 24 frames must stay under 12 million. */
export const PAGE_BYTES = 11_500_000
/** Base64 writes three bytes as four characters. */
export const BASE64 = 4 / 3
/** WebP qualities tried, best first. The lowest still shows a step as faint as the grain: tests/sheet/encode.test.ts. */
export const QUALITIES = [92, 90, 88, 86, 84, 82, 80] as const
export type Quality = (typeof QUALITIES)[number]
/** Estimates come from the candidates' weakest frames; the rest may be this much larger. */
const SAFETY = 1.06

export interface Plan {
  readonly quality: Quality
  /** how many candidates, from the best, carry their frames; the others carry their weakest alone */
  readonly ways: number
  /** every which target frame they carry; 1 is all */
  readonly step: number
}

/**
 * The best quality at which every frame of every candidate fits; at the lowest quality as many of the best candidates
 * as fit; and where not even one does, that one with frames left out.
 *
 * @param room        bytes left for the frames
 * @param targetBytes mean bytes of a target frame, which all candidates share
 * @param lentBytes   mean bytes of a lent picture at each quality
 */
export function planFrames(
  candidates: number,
  frames: number,
  room: number,
  targetBytes: number,
  lentBytes: (quality: Quality) => number,
): Plan {
  // Whoever has no room for all frames still carries one, its weakest, and the target under it.
  const cost = (ways: number, count: number, quality: Quality) => {
    const lent = lentBytes(quality)
    const whole = count * (targetBytes + ways * lent)
    return (whole + (candidates - ways) * (targetBytes + lent)) * BASE64 * SAFETY
  }
  for (const quality of QUALITIES) {
    if (cost(candidates, frames, quality) <= room) return { quality, ways: candidates, step: 1 }
  }
  const quality = QUALITIES[QUALITIES.length - 1]
  for (let ways = candidates - 1; ways > 0; ways--) {
    if (cost(ways, frames, quality) <= room) return { quality, ways, step: 1 }
  }
  for (let step = 2; step <= frames; step++) {
    if (cost(1, Math.ceil(frames / step), quality) <= room) return { quality, ways: 1, step }
  }
  return { quality, ways: 0, step: 1 }
}
