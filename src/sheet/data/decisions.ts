// decisions.json: what the lead said about which candidate. Written by the page, read back by it and by patch.
import * as z from 'zod'
import { OffcutError, printable } from '../../errors.js'
import { faultOf } from '../../fault.js'
import { INITIALS_LENGTH, NOTE_LENGTH } from './decision-words.js'

const decision = z.strictObject({
  candidate: z.string().min(1).max(200).describe('id of the candidate in result.json'),
  decision: z.enum(['accept', 'later', 'reject']),
  note: z.string().max(NOTE_LENGTH),
  initials: z.string().max(INITIALS_LENGTH),
  at: z.iso.datetime().describe('when it was decided, UTC'),
})

export const decisionsSchema = z.strictObject({
  schema: z.literal('offcut.decisions/1'),
  search: z.string().describe('fingerprint of the result that was judged'),
  plate: z.string(),
  first: z.int(),
  last: z.int(),
  decisions: z.array(decision),
})

export type Decisions = z.infer<typeof decisionsSchema>
export type Decision = Decisions['decisions'][number]
export type Choice = Decision['decision']

/**
 * Reads a decisions file's text, which comes from outside and is trusted in nothing.
 *
 * @param path named in errors
 * @throws OffcutError `DECISIONS_UNREADABLE` where it is no JSON, `DECISIONS_INVALID` with the place and both values
 */
export function parseDecisions(text: string, path = 'decisions.json'): Decisions {
  let json: unknown
  try {
    json = JSON.parse(text.replace(/^\uFEFF/, ''))
  } catch (cause) {
    throw new OffcutError(
      'DECISIONS_UNREADABLE',
      `${printable(path)} is no JSON (${printable((cause as Error).message)}): save the decisions from the sheet again`,
      2,
      { cause },
    )
  }
  const parsed = decisionsSchema.safeParse(json)
  if (!parsed.success) throw invalid(path, faultOf(parsed.error, json), json)
  const seen = new Set<string>()
  for (const { candidate } of parsed.data.decisions) {
    if (seen.has(candidate)) {
      throw invalid(path, `decisions decide on "${candidate}" twice`, json)
    }
    seen.add(candidate)
  }
  return parsed.data
}

function invalid(path: string, fault: string, json: unknown): OffcutError {
  const schema = (json as { schema?: unknown } | null)?.schema
  const other = typeof schema === 'string' && schema !== 'offcut.decisions/1'
  const what = other
    ? `is "${printable(schema)}", not "offcut.decisions/1"`
    : `has a fault: ${printable(fault)}`
  return new OffcutError(
    'DECISIONS_INVALID',
    `${printable(path)} ${what}: give the file that the sheet saved`,
    2,
  )
}
