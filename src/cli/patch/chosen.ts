// Which candidates of a result are to be patched.
import { misuse, printable } from '../../errors.js'
import { pick } from '../../repair/repair.js'
import { isName } from '../../search/hide/asked.js'
import { searchAgain } from '../../search/hide/search-again.js'
import type { Candidate, Result } from '../../search/result.js'
import { readDecisions } from '../../sheet/data/decisions-file.js'
import type { Io } from '../io.js'
import type { PatchFlags } from './flags.js'

/**
 * The picked candidate, or all that the lead accepted.
 *
 * @param beforeSearch is told the id of one that has to be searched for, and may refuse it
 */
export async function chosen(
  result: Result,
  { pick: id, decisions, out }: PatchFlags,
  io: Io,
  beforeSearch: (id: string) => Promise<void>,
): Promise<Candidate[]> {
  if ((id === undefined) === (decisions === undefined)) {
    const got = id === undefined ? 'neither' : 'both'
    const [first] = result.candidates
    const such = first === undefined ? '' : `, such as ${first.id}`
    throw misuse('--pick', `the id of a candidate${such}, or --decisions instead, one of the two`, got)
  }
  if (id !== undefined) {
    const listed = result.candidates.some((c) => c.id === id)
    if (listed || result.aim !== 'hide' || !isName(id)) return [pick(result, id)]
    await beforeSearch(id)
    io.say(`note: ${printable(id)} is no row of the result: the search is run again for it`)
    const found = await searchAgain(result, id, { onProgress: io.progress.report, signal: io.signal })
    io.progress.clear()
    return [found]
  }
  const decided = await readDecisions(decisions!, result)
  const accepted = decided.decisions.filter((d) => d.decision === 'accept').map((d) => d.candidate)
  if (accepted.length === 0)
    throw misuse('--decisions', 'a file that accepts a candidate', `none in ${decisions}`)
  if (out !== undefined && accepted.length > 1) {
    throw misuse('--out', `one candidate at a time, and ${accepted.length} are accepted`, out)
  }
  return accepted.map((candidate) => pick(result, candidate))
}
