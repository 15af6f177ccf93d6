// Which frames of a candidate the page plays: drawing all of one takes as long as searching for several.
import { isName } from '../../search/hide/asked.js'
import type { Candidate } from '../../search/result.js'
import { shownFrame } from './measures.js'

/** So many, the best, are played whole and measured whatever their verdict: where nothing holds one looks for the least bad. */
export const BEST = 3
/** Half a second of film: what stands still, jumps or changes its light from frame to frame is seen in it, over and over. */
const STRETCH = 12

/** All frames; those round the weakest; or the one that its row shows. */
type Extent = 'all' | 'stretch' | 'one'

/** @param place in the ranking, 0 for the best */
function extentOf({ id, moment, verdict, asked }: Candidate, place: number): Extent {
  if (moment?.what === 'object') return 'one'
  if (place < BEST || asked) return 'all'
  if (verdict === 'will not hold') return 'one'
  // A shadow that comes and goes is seen by its whole course; and what has no name of its own can't be asked for again.
  return moment === undefined && isName(id) ? 'stretch' : 'all'
}

/** The frames that a candidate plays where there is room, by index; one where it does not play. */
export function playedFrames(candidate: Candidate, place: number): number[] {
  const { frames } = candidate
  const extent = extentOf(candidate, place)
  const weakest = shownFrame(candidate)
  if (extent === 'one') return [weakest]
  if (extent === 'all' || frames.length <= STRETCH) return frames.map((_, i) => i)
  const from = Math.min(Math.max(0, weakest - STRETCH / 2), frames.length - STRETCH)
  return Array.from({ length: STRETCH }, (_, i) => from + i)
}

/**
 * Why the page has fewer frames of a candidate than there are, in words; null: it plays as many as there is room for.
 *
 * @param place in the ranking, 0 for the best
 */
export function whyFewer(candidate: Candidate, place: number): string | null {
  const { id, moment } = candidate
  if (moment?.what === 'object')
    return 'Where it peaks alone: what somebody who passes would do to the target is not played.'
  const extent = extentOf(candidate, place)
  const how = isName(id) ? `; a search with --try ${id} plays it` : ''
  if (extent === 'one') return `Its weakest frame alone, as it will not hold${how}.`
  if (extent === 'all' || candidate.frames.length <= STRETCH) return null
  return `The ${STRETCH} frames round its weakest, as it is none of the best three${how} whole.`
}

/** The candidates that play, of a ranking, and the frames that each has. */
export function playing(candidates: readonly Candidate[]): Map<Candidate, readonly number[]> {
  const all = candidates.map((candidate, place) => [candidate, playedFrames(candidate, place)] as const)
  return new Map(all.filter(([candidate], place) => extentOf(candidate, place) !== 'one'))
}
