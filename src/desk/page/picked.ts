// Which candidate is picked, while the ranking still changes.
import type { Candidate } from '../../search/result.js'

const RUN = /^run([+-]\d+)(?:\.p(\d+))?$/

/**
 * The candidate of that id; of a borrow whose peaks are still being placed the moment that the picked run fell into; else the first.
 *
 * @param all best first
 */
export function pickedOf(all: readonly Candidate[], id: string | null): Candidate | null {
  const same = all.find((candidate) => candidate.id === id)
  return same ?? all.find((candidate) => id !== null && isIn(candidate, id)) ?? all[0] ?? null
}

function isIn({ moment, timeOffset, donor }: Candidate, id: string): boolean {
  const run = RUN.exec(id)
  if (moment === undefined || timeOffset === null || run === null) return false
  const peak = moment.peak - timeOffset + Number(run[1])
  return donor === Number(run[2] ?? 1) - 1 && peak >= moment.start && peak <= moment.end
}
