// Text tables for the terminal, fitted to its width.
import { printable } from '../errors.js'
import { MEASURE_KEYS, measureOf } from '../search/measures.js'
import type { Candidate, Result, Verdict } from '../search/result.js'
import { figures, scoreFigures, weakestFrame } from '../sheet/data/measures.js'
import { offsetSpan } from '../sheet/data/words.js'
import { zoomAndRoll } from '../sheet/data/zoom-roll.js'
import { textWidth, wrapWords } from './io.js'

const GAP = '  '
/** Narrower than this a reason takes three lines beside the numbers, and is read more easily below them. */
const MIN_PROSE = 36

/**
 * Rows as lines no wider than `columns`, broken between words. Columns are padded to their widest cell; the last one is
 * prose, which wraps below itself. Columns that do not fit beside each other go on in a further line of every row, the
 * same in each, so that they stay columns.
 *
 * @param columns of the terminal; infinite: a line per row, for programs that read lines
 */
export function table(
  rows: readonly (readonly string[])[],
  columns: number = Number.POSITIVE_INFINITY,
): string[] {
  const cells = rows.map((row) => row.map(printable))
  const widths: number[] = []
  for (const row of cells)
    for (const [i, cell] of row.entries()) widths[i] = Math.max(widths[i] ?? 0, textWidth(cell))
  const lines = linesOf(widths, columns)
  return cells.flatMap((row) =>
    lines.flatMap(({ from, to, indent }) => {
      const prose = to === widths.length
      const padded = row.slice(from, prose ? -1 : to).map((cell, k) => padEnd(cell, widths[from + k]))
      const before = indent + padded.map((cell) => cell + GAP).join('')
      if (!prose) return [before.trimEnd()]
      const left = textWidth(before)
      return wrapWords(row.at(-1) ?? '', columns - left)
        .split('\n')
        .map((line, k) => ((k === 0 ? before : ' '.repeat(left)) + line).trimEnd())
    }),
  )
}

interface Line {
  /** The columns on it: from, up to and without to. */
  readonly from: number
  readonly to: number
  readonly indent: string
}

/** Which columns stand on which line of a row. */
function linesOf(widths: readonly number[], columns: number): Line[] {
  const lines: Line[] = []
  const last = widths.length - 1
  let from = 0
  let used = 0
  for (const [i, width] of widths.entries()) {
    const wanted = i === last ? Math.min(width, MIN_PROSE) : width
    if (i > from && used + wanted > columns) {
      lines.push({ from, to: i, indent: lines.length === 0 ? '' : GAP })
      from = i
      used = GAP.length
    }
    used += width + GAP.length
  }
  lines.push({ from, to: widths.length, indent: lines.length === 0 ? '' : GAP })
  return lines
}

function padEnd(cell: string, width: number): string {
  return cell + ' '.repeat(Math.max(0, width - textWidth(cell)))
}

export function candidateTable(result: Result, columns?: number): string[] {
  if (result.candidates.length === 0) return ['no candidate']
  if (result.aim === 'borrow') return momentTable(result, columns)
  const keys = MEASURE_KEYS.filter((key) => measureOf(key).inTerminal)
  // The only frame there is needs no naming.
  const several = result.target.frames.length > 1
  const turned = result.candidates.map((c) => zoomAndRoll(c, result))
  const some = turned.some((t) => t !== null)
  const head = [
    'candidate',
    'score',
    'verdict',
    ...keys.map((key) => measureOf(key).label),
    'dx, dy',
    ...(some ? ['zoom, roll'] : []),
    ...(several ? ['weakest'] : []),
    'why',
  ]
  const rows = result.candidates.map((c, i) => [
    c.asked ? `${c.id}, asked for` : c.id,
    scoreFigures(c.score),
    c.verdict,
    ...keys.map((key) => typed(figures(key, c[key]))),
    typed(`${offsetSpan(c.frames.map((f) => f.dx))}, ${offsetSpan(c.frames.map((f) => f.dy))}`),
    ...(some ? [turned[i] === null ? 'none' : typed(`${turned[i].zoom}, ${turned[i].roll}`)] : []),
    ...(several ? [String(c.frames[weakestFrame(c)].target)] : []),
    c.why,
  ])
  return table([head, ...rows], columns)
}

/** The candidate to go on with: the best that holds up, else the best that can be worked on, else none. */
export function worthPatching({ candidates }: Result): Candidate | undefined {
  const first = (verdict: Verdict) => candidates.find((c) => c.verdict === verdict)
  return first('holds up') ?? first('needs work')
}

function momentTable(result: Result, columns?: number): string[] {
  const head = [
    'candidate',
    'score',
    'verdict',
    'what',
    'frames',
    'peak',
    'stops',
    'region',
    'surface',
    'why',
  ]
  const rows = result.candidates.map((c) => {
    const { what, sign, start, peak, end, depthStops, coverage, surface } = c.moment!
    return [
      c.id,
      scoreFigures(c.score),
      c.verdict,
      what === 'light' ? sign : what,
      `${start}-${end}`,
      String(peak),
      depthStops.toFixed(2),
      `${Math.round(100 * coverage)} %`,
      typed(figures('ncc', surface)),
      c.why,
    ]
  })
  return table([head, ...rows], columns)
}

/** The sheet's figures with the signs that a keyboard has. */
function typed(figures: string): string {
  return figures.replaceAll(/[−–]/g, '-')
}
