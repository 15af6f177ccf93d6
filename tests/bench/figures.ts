// One row of the table per figure, each a ratio of two things measured in the same run.
import type { Timed } from './timing.js'

export interface Figure {
  readonly what: string
  readonly value: number | null
  readonly unit: string
  readonly most?: number
  readonly least?: number
  /** What was divided by what, in words and seconds. */
  readonly detail: string
}

export function ratio(a: Timed, b: Timed): number {
  return a.least / b.least
}

/** Processor time over processor time. */
export function processorRatio(a: Timed, b: Timed): number {
  return a.leastProcessor / b.leastProcessor
}

/** Both kinds of time: on a machine with other work the processor's tells more than what was waited. */
export function told({ least, leastProcessor, spread, runs }: Timed): string {
  const processor = `${leastProcessor.toFixed(2)} s of processor`
  return `${least.toFixed(2)} s (${processor}, ${runs} runs, spread ${Math.round(100 * spread)} %)`
}

export function table(figures: readonly Figure[]): string {
  const rows = figures.map((f) => {
    const bar = f.most !== undefined ? `<= ${f.most}` : f.least !== undefined ? `>= ${f.least}` : ''
    const reached = bar === '' ? '' : reaches(f) ? 'reached' : 'NOT REACHED'
    const value = f.value === null ? 'not measured' : `${f.value.toFixed(2)} ${f.unit}`
    return [f.what, value, bar, reached, f.detail]
  })
  const all = [['figure', 'value', 'bar', '', 'from'], ...rows]
  const widths = all[0].map((_, c) => Math.max(...all.map((r) => r[c].length)))
  return all
    .map((r) =>
      r
        .map((cell, c) => cell.padEnd(widths[c]))
        .join('  ')
        .trimEnd(),
    )
    .join('\n')
}

function reaches({ value, most, least }: Figure): boolean {
  if (value === null) return false
  return (most === undefined || value <= most) && (least === undefined || value >= least)
}
