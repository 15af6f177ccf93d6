// Rows as text for a spreadsheet or a script. RFC 4180.
import { stringify } from 'csv-stringify/sync'

/** What a spreadsheet takes for the start of a formula (OWASP, CSV Injection, lists the same characters). */
const FORMULA_START = /^[=+\-@\t\r]/
const PLAIN_NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i

/** The text with a leading apostrophe where a spreadsheet would run it as a formula; plain numbers stay numbers. */
export function defuse(cell: string): string {
  return FORMULA_START.test(cell) && !PLAIN_NUMBER.test(cell) ? `'${cell}` : cell
}

/** A head line and the rows, absent values as empty cells, lines ending in CR LF. */
export function csvOf(
  columns: readonly string[],
  rows: readonly (readonly (string | number | null)[])[],
): string {
  const cells = rows.map((row) => row.map((value) => (typeof value === 'string' ? defuse(value) : value)))
  // A lone CR or LF inside a cell must be quoted too, which the library does for the pair alone.
  return stringify(cells, {
    header: true,
    columns: [...columns],
    record_delimiter: '\r\n',
    quoted_match: /[\r\n]/,
  })
}
