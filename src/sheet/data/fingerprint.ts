// Which search a decisions file belongs to.
import { createHash } from 'node:crypto'
import type { Result } from '../../search/result.js'

/** 16 hexadecimal figures that change with anything in the result; the order of keys does not matter. */
export function searchFingerprint(result: Result): string {
  const sorted = (_: string, value: unknown) =>
    value !== null && typeof value === 'object' && !Array.isArray(value)
      ? Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)))
      : value
  return createHash('sha256').update(JSON.stringify(result, sorted)).digest('hex').slice(0, 16)
}
