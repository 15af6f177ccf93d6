// candidates.csv: one row per candidate, for a spreadsheet or a script. RFC 4180.
import { stringify } from 'csv-stringify/sync'
import { writeWhole } from '../../footage/write/file.js'
import type { Candidate, Result } from '../../search/result.js'

/** What a spreadsheet takes for the start of a formula (OWASP, CSV Injection, lists the same characters). */
const FORMULA_START = /^[=+\-@\t\r]/
const PLAIN_NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i

/** The text with a leading apostrophe where a spreadsheet would run it as a formula; plain numbers stay numbers. */
export function defuse(cell: string): string {
  return FORMULA_START.test(cell) && !PLAIN_NUMBER.test(cell) ? `'${cell}` : cell
}

type Row = Record<string, string | number | null>

function row(candidate: Candidate, rank: number, result: Result): Row {
  const { frames } = candidate
  return {
    rank,
    id: candidate.id,
    kind: candidate.kind,
    verdict: candidate.verdict,
    score: candidate.score,
    donor_plate: result.donors[candidate.donor]?.plate ?? null,
    time_offset: candidate.timeOffset,
    first_donor_frame: frames[0].donor,
    last_donor_frame: frames[frames.length - 1].donor,
    frames: frames.length,
    ncc: candidate.ncc,
    stops: candidate.stops,
    seam: candidate.seam,
    inside: candidate.inside,
    clean: candidate.clean,
    grain: candidate.grain,
    sharpness: candidate.sharpness,
    steadiness_px: candidate.steadiness,
    life: candidate.life,
    dx_mean_px: mean(frames.map((f) => f.dx)),
    dy_mean_px: mean(frames.map((f) => f.dy)),
    alternatives: candidate.alternatives?.length ?? 0,
    ...momentCells(candidate),
    why: candidate.why,
  }
}

/** A borrow's moment; empty cells of a hide. */
function momentCells({ moment }: Candidate): Row {
  return {
    change: moment?.what ?? null,
    sign: moment?.sign ?? null,
    start_frame: moment?.start ?? null,
    peak_frame: moment?.peak ?? null,
    end_frame: moment?.end ?? null,
    depth_stops: moment?.depthStops ?? null,
    coverage: moment?.coverage ?? null,
    surface: moment?.surface ?? null,
  }
}

/** The columns, in order; also the head line where there are no candidates. */
const COLUMNS = [
  ...['rank', 'id', 'kind', 'verdict', 'score', 'donor_plate', 'time_offset', 'first_donor_frame'],
  ...[
    'last_donor_frame',
    'frames',
    'ncc',
    'stops',
    'seam',
    'inside',
    'clean',
    'grain',
    'sharpness',
    'steadiness_px',
  ],
  ...['life', 'dx_mean_px', 'dy_mean_px', 'alternatives', 'change', 'sign', 'start_frame'],
  ...['peak_frame', 'end_frame', 'depth_stops', 'coverage', 'surface', 'why'],
]

/** The text of candidates.csv: a head line and one line per candidate, best first; absent numbers are empty cells. */
export function csvText(result: Result): string {
  const rows = result.candidates.map((candidate, i) => {
    const cells = Object.entries(row(candidate, i + 1, result))
    return Object.fromEntries(
      cells.map(([key, cell]) => [key, typeof cell === 'string' ? defuse(cell) : cell]),
    )
  })
  // A lone CR or LF inside a cell must be quoted too, which the library does for the pair alone.
  return stringify(rows, { header: true, columns: COLUMNS, record_delimiter: '\r\n', quoted_match: /[\r\n]/ })
}

/** Writes {@link csvText} whole, or not at all. */
export async function writeCsv(path: string, result: Result, { overwrite = false } = {}): Promise<void> {
  await writeWhole(path, csvText(result), { overwrite })
}

function mean(values: readonly number[]): number {
  const sum = values.reduce((a, b) => a + b, 0)
  return Number((sum / values.length).toFixed(4))
}
