// candidates.csv: one row per candidate, for a spreadsheet or a script. RFC 4180.
import { csvOf } from '../../csv.js'
import { writeWhole } from '../../footage/write/file.js'
import { MEASURE_KEYS, measureOf } from '../../search/measures.js'
import type { Candidate, Result } from '../../search/result.js'

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
  ['edge_step_stops', ({ moment }) => moment?.edgeStep ?? null],
  ['why', (c) => c.why],
]

/** The text of candidates.csv: a head line and one line per candidate, best first; absent numbers are empty cells. */
export function csvText(result: Result): string {
  const rows = result.candidates.map((candidate, i) =>
    COLUMNS.map(([, cell]) => cell(candidate, i + 1, result)),
  )
  const columns = COLUMNS.map(([name]) => name)
  return csvOf(columns, rows)
}

/** Writes {@link csvText} whole, or not at all. */
export async function writeCsv(path: string, result: Result, { overwrite = false } = {}): Promise<void> {
  await writeWhole(path, csvText(result), { overwrite })
}

function mean(values: readonly number[]): number {
  const sum = values.reduce((a, b) => a + b, 0)
  return Number((sum / values.length).toFixed(4))
}
