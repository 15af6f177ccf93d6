// Which candidates the page plays: drawing all frames of one takes as long as searching for several.
import { isName } from '../../search/hide/asked.js'
import type { Candidate } from '../../search/result.js'

/** So many, the best, are played and measured whatever their verdict: where nothing holds one looks for the least bad. */
export const BEST = 3

/**
 * Why the page shows one frame of a candidate alone, in words; null: it plays as many as there is room for.
 *
 * @param place in the ranking, 0 for the best
 */
export function whyAlone({ id, moment, verdict, asked }: Candidate, place: number): string | null {
  if (moment?.what === 'object')
    return 'Where it peaks alone: what somebody who passes would do to the target is not played.'
  if (place < BEST || verdict !== 'will not hold' || asked) return null
  const how = isName(id) ? `; a search with --try ${id} plays it` : ''
  return `Its weakest frame alone, as it will not hold${how}.`
}

/** The candidates that play, of a ranking. */
export function playing(candidates: readonly Candidate[]): Candidate[] {
  return candidates.filter((candidate, place) => whyAlone(candidate, place) === null)
}
