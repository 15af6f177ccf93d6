// What is wrong with a file from outside, in words: which entry, what it must be, and what it is.
import type * as z from 'zod'

/** Longer values are named by their kind. */
const LONGEST_QUOTE = 60

/** The first fault of a file that its schema refuses: `target.width must be a number, and is "wide"`. */
export function faultOf(error: z.ZodError, json: unknown): string {
  const issue = error.issues[0]
  return `${placeOf(issue.path)} ${wording(issue, valueAt(json, issue.path))}`
}

/** `candidates[3].frames[0].dx` */
function placeOf(path: readonly PropertyKey[]): string {
  const text = path.reduce<string>(
    (before, key) =>
      typeof key === 'number' ? `${before}[${key}]` : before ? `${before}.${String(key)}` : String(key),
    '',
  )
  return text || 'the file'
}

function wording(issue: z.core.$ZodIssue, value: unknown): string {
  if (issue.code === 'unrecognized_keys') return `has unknown entries: ${issue.keys.join(', ')}`
  const wanted = wantedBy(issue)
  return value === undefined
    ? `is missing; it must be ${wanted}`
    : `must be ${wanted}, and is ${quote(value)}`
}

const KINDS: Readonly<Record<string, string>> = {
  array: 'a list',
  tuple: 'a list',
  string: 'text',
  int: 'a whole number',
  number: 'a number',
}

function wantedBy(issue: z.core.$ZodIssue): string {
  const unit = (origin: string) => (origin === 'string' ? ' letters' : origin === 'array' ? ' entries' : '')
  switch (issue.code) {
    case 'invalid_value':
      return issue.values.length === 1
        ? JSON.stringify(issue.values[0])
        : `one of ${issue.values.map(String).join(', ')}`
    case 'too_big':
      if (issue.origin === 'string') return `no longer than ${issue.maximum}`
      return `at most ${issue.maximum}${unit(issue.origin)}`
    case 'too_small':
      return `${issue.inclusive === false ? 'more than' : 'at least'} ${issue.minimum}${unit(issue.origin)}`
    case 'invalid_type':
      return KINDS[issue.expected] ?? `of type ${issue.expected}`
    case 'invalid_format':
      return issue.format === 'regex' ? 'written as offcut writes it' : `written as a ${issue.format}`
    default:
      return `another value (${issue.message})`
  }
}

function valueAt(json: unknown, path: readonly PropertyKey[]): unknown {
  let value = json
  for (const key of path) value = (value as Record<PropertyKey, unknown> | null | undefined)?.[key]
  return value
}

function quote(value: unknown): string {
  const text = JSON.stringify(value)
  if (text.length <= LONGEST_QUOTE) return text
  if (Array.isArray(value)) return `a list of ${value.length}`
  return typeof value === 'string' ? `text of ${value.length} letters` : 'an object'
}
