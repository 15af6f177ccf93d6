// decisions.json on disk, held against the result that it is about.
import { readFile } from 'node:fs/promises'
import { OffcutError, printable } from '../../errors.js'
import type { Result } from '../../search/result.js'
import { type Decisions, parseDecisions } from './decisions.js'
import { searchFingerprint } from './fingerprint.js'

/**
 * What the lead decided about this result.
 *
 * @throws DECISIONS_NOT_FOUND, DECISIONS_OTHER (made on another search), and as parseDecisions
 */
export async function readDecisions(path: string, result: Result): Promise<Decisions> {
  const text = await readFile(path, 'utf8').catch((cause) => {
    const problem = `${printable(path)} can't be read: give the file that the sheet saved`
    throw new OffcutError('DECISIONS_NOT_FOUND', problem, 2, { cause })
  })
  const decisions = parseDecisions(text, path)
  if (decisions.search === searchFingerprint(result)) return decisions
  throw new OffcutError(
    'DECISIONS_OTHER',
    `${printable(path)} was made on another search (${printable(decisions.plate)}, frames ${decisions.first}-${decisions.last}): decide on this result's own sheet`,
    2,
  )
}
