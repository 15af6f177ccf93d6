// What was decided about a result, kept beside it as decisions.json, which `offcut patch --decisions` takes.
import { stat } from 'node:fs/promises'
import { join } from 'node:path'
import { writeWhole } from '../footage/write/file.js'
import { readResult } from '../search/result-file.js'
import { type Decisions, decisionsSchema } from '../sheet/data/decisions.js'
import { readDecisions } from '../sheet/data/decisions-file.js'
import { searchFingerprint } from '../sheet/data/fingerprint.js'
import { checked, Refused } from './refused.js'

/** None yet: a file without any. @param folder of the result @throws as readResult and readDecisions */
export async function decisionsOf(folder: string): Promise<Decisions> {
  const { result } = await readResult(folder)
  const path = join(folder, 'decisions.json')
  if ((await stat(path).catch(() => null)) !== null) return readDecisions(path, result)
  const { plate, first, last } = result.target
  return {
    schema: 'offcut.decisions/1',
    search: searchFingerprint(result),
    plate,
    first,
    last,
    decisions: [],
  }
}

/** @throws as readResult; Refused 400 and, of those made on another result, 409 */
export async function decide(folder: string, body: unknown): Promise<void> {
  const decisions = checked(decisionsSchema, body, 'the decisions')
  const { result } = await readResult(folder)
  const candidates = decisions.decisions.map(({ candidate }) => candidate)
  const twice = candidates.find((id, i) => candidates.indexOf(id) < i)
  if (twice !== undefined) throw new Refused(400, 'MISUSE', `the decisions decide on "${twice}" twice`)
  if (decisions.search !== searchFingerprint(result))
    throw new Refused(
      409,
      'DECISIONS_OTHER',
      'these decisions were made on another result: load the page again',
    )
  const path = join(folder, 'decisions.json')
  await writeWhole(path, `${JSON.stringify(decisions, null, 1)}\n`, { overwrite: true })
}
