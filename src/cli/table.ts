// Text tables for the terminal.
import { stripVTControlCharacters } from 'node:util'
import type { Result } from '../search/result.js'

/** Columns padded to their widest cell, two spaces between; the last one runs free. */
export function table(rows: readonly (readonly string[])[]): string {
  const widths: number[] = []
  for (const row of rows) {
    for (const [i, cell] of row.entries())
      widths[i] = Math.max(widths[i] ?? 0, stripVTControlCharacters(cell).length)
  }
  return rows
    .map((row) =>
      row
        .map((cell, i) => (i === row.length - 1 ? cell : cell.padEnd(widths[i])))
        .join('  ')
        .trimEnd(),
    )
    .join('\n')
}

export function candidateTable(result: Result): string {
  if (result.candidates.length === 0) return 'no candidate'
  if (result.aim === 'borrow') return momentTable(result)
  const head = ['candidate', 'score', 'verdict', 'ncc', 'stops', 'seam', 'inside', 'clean', 'dx, dy', 'why']
  const rows = result.candidates.map((c) => {
    const middle = c.frames[c.frames.length >> 1]
    return [
      c.id,
      c.score.toFixed(1),
      c.verdict,
      fixed(c.ncc, 3),
      fixed(c.stops, 2),
      fixed(c.seam, 2),
      fixed(c.inside, 2),
      fixed(c.clean, 3),
      `${middle.dx.toFixed(2)}, ${middle.dy.toFixed(2)}`,
      c.why,
    ]
  })
  return table([head, ...rows])
}

function momentTable(result: Result): string {
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
      c.score.toFixed(1),
      c.verdict,
      what === 'light' ? sign : what,
      `${start}-${end}`,
      String(peak),
      depthStops.toFixed(2),
      `${Math.round(100 * coverage)} %`,
      fixed(surface, 3),
      c.why,
    ]
  })
  return table([head, ...rows])
}

export function fixed(value: number | null, digits: number): string {
  return value === null ? '-' : value.toFixed(digits)
}
