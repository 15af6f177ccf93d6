// candidates.csv: one row per candidate, for a spreadsheet or a script. RFC 4180.
import { stringify } from 'csv-stringify/sync'
import { writeWhole } from '../../footage/write/file.js'
import { MEASURE_KEYS, measureOf } from '../../search/measures.js'
import type { Candidate, Result } from '../../search/result.js'

/** What a spreadsheet takes for the start of a formula (OWASP, CSV Injection, lists the same characters). */
const FORMULA_START = /^[=+\-@\t\r]/
const PLAIN_NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i

/** The text with a leading apostrophe where a spreadsheet would run it as a formula; plain numbers stay numbers. */
export function defuse(cell: string): string {
  return FORMULA_START.test(cell) && !PLAIN_NUMBER.test(cell) ? `'${cell}` : cell
}

type Cell = string | number | null
type Column = readonly [name: string, cell: (candidate: Candidate, rank: number, result: Result) => Cell]

/** The columns in order; those of a moment are empty cells for a hide. */
const COLUMNS: readonly Column[] = [
  ['rank', (_, rank) => rank],
  ['id', (c) => c.id],
  ['kind', (c) => c.kind],
  ['verdict', (c) => c.verdict],
  ['score', (c) => c.score],
  ['donor_plate', (c, _, result) => result.donors[c.donor]?.plate ?? null],
  ['time_offset', (c) => c.timeOffset],
  ['first_donor_frame', (c) => c.frames[0].donor],
  ['last_donor_frame', (c) => c.frames[c.frames.length - 1].donor],
  ['frames', (c) => c.frames.length],
  ...MEASURE_KEYS.map((key): Column => [measureOf(key).column, (c) => c[key]]),
  ['expected_low_db', (c) => c.interval?.[0] ?? null],
  ['expected_high_db', (c) => c.interval?.[1] ?? null],
  ['dx_mean_px', (c) => mean(c.frames.map((f) => f.dx))],
  ['dy_mean_px', (c) => mean(c.frames.map((f) => f.dy))],
  ['asked', (c) => (c.asked ? 'yes' : null)],
  ['alternatives', (c) => c.alternatives?.length ?? 0],
  ['change', ({ moment }) => moment?.what ?? null],
  ['sign', ({ moment }) => moment?.sign ?? null],
  ['start_frame', ({ moment }) => moment?.start ?? null],
  ['peak_frame', ({ moment }) => moment?.peak ?? null],
  ['end_frame', ({ moment }) => moment?.end ?? null],
  ['depth_stops', ({ moment }) => moment?.depthStops ?? null],
  ['coverage', ({ moment }) => moment?.coverage ?? null],
  ['surface', ({ moment }) => moment?.surface ?? null],
  ['why', (c) => c.why],
]

/** The text of candidates.csv: a head line and one line per candidate, best first; absent numbers are empty cells. */
export function csvText(result: Result): string {
  const rows = result.candidates.map((candidate, i) =>
    COLUMNS.map(([, cell]) => {
      const value = cell(candidate, i + 1, result)
      return typeof value === 'string' ? defuse(value) : value
    }),
  )
  const columns = COLUMNS.map(([name]) => name)
  // A lone CR or LF inside a cell must be quoted too, which the library does for the pair alone.
  return stringify(rows, { header: true, columns, record_delimiter: '\r\n', quoted_match: /[\r\n]/ })
}

/** Writes {@link csvText} whole, or not at all. */
export async function writeCsv(path: string, result: Result, { overwrite = false } = {}): Promise<void> {
  await writeWhole(path, csvText(result), { overwrite })
}

function mean(values: readonly number[]): number {
  const sum = values.reduce((a, b) => a + b, 0)
  return Number((sum / values.length).toFixed(4))
}
