// The evaluation in figures: a line per case, a line per bar with a column per plate, and a JSON file.
import { mkdir, rename, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import {
  type At,
  type Bar,
  coverOf,
  first,
  hold,
  lossOf,
  mosaic,
  passes,
  rawLossOf,
  type Summary,
  stack,
} from './bars.js'
import type { Evaluated, Judged } from './evaluate.js'
import { median, rms } from './statistics.js'

/** A donor is placed where it lies within this of its true place. */
const PLACED_PX = 1

/** One plate's cases and what they came to. */
export interface Report {
  readonly footage: string
  readonly seed: string
  readonly summaries: readonly Summary[]
  readonly cases: readonly Evaluated[]
}

/** One line per case. Losses are capped but where the column says raw; `loss` is at the middle frame, `over` the window. */
export function caseTable(cases: readonly Evaluated[]): string {
  const rows = cases.map((e) => {
    const { planted, oracle, template, median: still } = e.prepared
    const loss = (c: Judged | undefined, at: At) => (c ? db(lossOf(e, c, at)) : '-')
    const counts = (v: Judged['verdict']) => e.candidates.filter((c) => c.verdict === v).length
    const [top, h, s, m] = [first(e), hold(e), stack(e), mosaic(e)]
    return [
      planted.id,
      `${planted.window.frames[0]}+${planted.window.frames.length}`,
      `${Math.round(100 * planted.window.disturbedShare)}%`,
      db(oracle.middle),
      db(oracle.window),
      top?.id ?? 'none',
      top?.label ?? '-',
      top?.verdict ?? '-',
      loss(top, 'middle'),
      loss(top, 'window'),
      top ? db(rawLossOf(e, top, 'window')) : '-',
      (top && coverOf(top)) ?? '-',
      h?.id ?? 'none',
      h?.label ?? '-',
      loss(h, 'middle'),
      loss(h, 'window'),
      loss(s, 'window'),
      loss(m, 'window'),
      template ? db(lossOf(e, template, 'window')) : '-',
      still ? db(lossOf(e, still, 'window')) : '-',
      figure(rms(e.offsetErrors)),
      figure(rms(e.stopsErrors)),
      `${counts('holds up')}/${counts('needs work')}/${counts('will not hold')}`,
      e.seconds.toFixed(1),
    ]
  })
  const head = `case window busy oracle over first truly verdict loss over raw interval hold
    truly loss over stack mosaic OpenCV median px stops up:work:not s`.split(/\s+/)
  return aligned([head, ...rows])
}

/**
 * Each bar of each variant, then what else was measured, a column per plate, so that what was tuned on one is read on the
 * other. Beside a capped loss stands the raw one in brackets.
 */
export function summaryTable(reports: readonly Pick<Report, 'footage' | 'summaries'>[]): string {
  const variants = [...new Set(reports.flatMap((r) => r.summaries.map((s) => s.variant)))]
  const rows = (part: 'bars' | 'notes') =>
    variants.flatMap((variant) => {
      const lists = reports.map((r) => r.summaries.find((s) => s.variant === variant)?.[part] ?? [])
      const whats = [...new Set(lists.flatMap((list) => list.map((bar) => bar.what)))]
      return whats.map((what) => {
        const bars = lists.map((list) => list.find((bar) => bar.what === what))
        return [variant, what, limitOf(bars.find((bar) => bar !== undefined)!), ...bars.map(cellOf)]
      })
    })
  const head = ['variant', 'figure', 'bar', ...reports.map((r) => r.footage)]
  return aligned([head, ...rows('bars'), ...rows('notes')])
}

/**
 * Ours against general-purpose parts on the same pairs, a line per plate and variant: share of donors that were placed to a
 * pixel, %; median and RMS error of those, pixels; milliseconds a donor. Ours are until all frames are followed, reading included.
 */
export function outsideTable(reports: readonly Pick<Report, 'footage' | 'cases'>[]): string {
  const rows = reports.flatMap(({ footage, cases }) => {
    const beside = cases.filter((e) => e.outside !== undefined)
    const variants = [...new Set(beside.map((e) => e.prepared.planted.variant))]
    return variants.map((variant) => {
      const of = beside.filter((e) => e.prepared.planted.variant === variant)
      const cells = (key: 'ours' | 'features' | 'ecc') => {
        const all = of.flatMap((e) => e.outside![key])
        const near = all.filter((px): px is number => px !== null && px <= PLACED_PX)
        const share = all.length > 0 ? (100 * near.length) / all.length : null
        return [share === null ? 'none' : `${share.toFixed(0)}%`, figure(median(near)), figure(rms(near))]
      }
      const ms = (key: 'featuresMs' | 'eccMs') => db(median(of.flatMap((e) => e.outside![key])) ?? Number.NaN)
      const ours = median(of.map((e) => (1000 * e.followSeconds) / e.prepared.planted.frames.length))
      return [
        footage,
        variant,
        ...cells('ours'),
        db(ours ?? Number.NaN),
        ...cells('features'),
        ms('featuresMs'),
        ...cells('ecc'),
        ms('eccMs'),
      ]
    })
  })
  const head = 'footage variant ours median rms ms features median rms ms ECC median rms ms'.split(' ')
  const by = reports.flatMap((r) => r.cases.map((e) => e.outside?.by)).find((b) => b !== undefined)
  return `${by ?? 'no camera that moves'}\n${aligned([head, ...rows])}`
}

function limitOf({ most, least }: Bar): string {
  if (most !== undefined && least !== undefined) return `${least} to ${most}`
  if (most !== undefined) return `<= ${most}`
  return least !== undefined ? `>= ${least}` : ''
}

function cellOf(bar: Bar | undefined): string {
  if (bar === undefined) return '-'
  const raw = bar.raw === undefined || bar.raw === bar.figure ? '' : ` (${figure(bar.raw)})`
  return `${figure(bar.figure)}${raw}${passes(bar) || limitOf(bar) === '' ? '' : ' MISSED'}`
}

export async function writeReport(folder: string, name: string, report: Report): Promise<string> {
  await mkdir(folder, { recursive: true })
  const path = join(folder, `${name}.json`)
  const cases = report.cases.map(({ prepared, ...rest }) => {
    const { planted, oracle, template, median: still } = prepared
    const { donors, ...best } = oracle
    const { id, window, box, crop, standing } = planted
    return { id, window, box, crop, standing, oracle: best, template, median: still, ...rest }
  })
  await writeFile(`${path}.part`, `${JSON.stringify({ ...report, cases }, null, 1)}\n`)
  await rename(`${path}.part`, path)
  return path
}

function db(value: number): string {
  return Number.isFinite(value) ? value.toFixed(2) : 'none'
}

function figure(value: number | null): string {
  if (value === null || !Number.isFinite(value)) return 'none'
  return Number.isInteger(value) ? String(value) : value.toFixed(3)
}

export function aligned(rows: readonly (readonly string[])[]): string {
  const widths = rows[0].map((_, c) => Math.max(...rows.map((r) => r[c].length)))
  return rows
    .map((r) =>
      r
        .map((cell, c) => cell.padEnd(widths[c]))
        .join('  ')
        .trimEnd(),
    )
    .join('\n')
}
