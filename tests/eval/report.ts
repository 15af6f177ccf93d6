// The evaluation in figures: a line per case, a line per variant, each bar with what was reached, and a JSON file.
import { mkdir, rename, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import type { Evaluated, Judged } from './evaluate.js'
import type { Variant } from './motion.js'
import { median, rms, worst } from './statistics.js'

/** Candidates that are called good must lie this near to the oracle. */
const NEAR_DB = 3

interface Bar {
  readonly what: string
  readonly figure: number | null
  readonly most?: number
  readonly least?: number
}

/** What one variant came to. Losses are oracle minus repair, dB, at the middle frame and over the window. */
export interface Summary {
  readonly variant: Variant
  readonly cases: number
  readonly bars: readonly Bar[]
  readonly notes: Readonly<Record<string, number | null>>
}

type At = 'middle' | 'window'
type Of = (e: Evaluated) => Judged | undefined

const first: Of = (e) => e.candidates[0]
const hold: Of = (e) => e.candidates.find((c) => c.kind === 'hold')
/** The highest-ranked that takes each frame from one donor frame: anything but a stack. */
const single: Of = (e) => e.candidates.find((c) => c.kind !== 'stack')
const stack: Of = (e) => e.candidates.find((c) => c.kind === 'stack')

function losses(cases: readonly Evaluated[], of: Of, at: At): number[] {
  return cases.flatMap((e) => {
    const c = of(e)
    // No such candidate at all is the worst of losses, not one left out of the sum.
    return [c === undefined ? Number.POSITIVE_INFINITY : e.prepared.oracle[at] - c[at]]
  })
}

export function summarise(variant: Variant, cases: readonly Evaluated[]): Summary {
  return variant === 'hopeless' ? ofHopeless(cases) : ofHopeful(variant, cases)
}

function ofHopeful(variant: Variant, cases: readonly Evaluated[]): Summary {
  const bars: Bar[] = []
  for (const at of ['middle', 'window'] as const) {
    bars.push({ what: `hold, median loss, ${at}`, figure: median(losses(cases, hold, at)), most: 0.5 })
    bars.push({ what: `hold, worst loss, ${at}`, figure: worst(losses(cases, hold, at)), most: 2 })
    bars.push({ what: `stack, median loss, ${at}`, figure: median(losses(cases, stack, at)), most: 0 })
  }
  const dirty = cases.filter((e) => first(e)?.label === 'disturbed').length
  bars.push({ what: 'disturbed donor ranked first, cases', figure: dirty, most: 0 })
  if (variant === 'sway') {
    const offsets = cases.flatMap((e) => e.offsetErrors)
    bars.push({ what: '2D offset error, px RMS', figure: rms(offsets), most: 0.05 })
  }
  const stops = cases.flatMap((e) => e.stopsErrors)
  bars.push({ what: 'stops error, RMS', figure: rms(stops), most: 0.02 })
  const good = cases.flatMap((e) =>
    e.candidates
      .filter((c) => c.verdict === 'holds up')
      .map((c) => (e.prepared.oracle.window - c.window <= NEAR_DB ? 1 : 0)),
  )
  const near: number = good.reduce<number>((a, b) => a + b, 0)
  bars.push({
    what: `"holds up" within ${NEAR_DB} dB, %`,
    figure: good.length > 0 ? (100 * near) / good.length : null,
    least: 95,
  })
  const of = (pick: Of, at: At) => median(losses(cases, pick, at))
  const flat = (values: (e: Evaluated) => number) => median(cases.map(values))
  return {
    variant,
    cases: cases.length,
    bars,
    notes: {
      'oracle, dB, middle': flat((e) => e.prepared.oracle.middle),
      'oracle, dB, window': flat((e) => e.prepared.oracle.window),
      'first-ranked of any kind, median loss, middle': of(first, 'middle'),
      'first-ranked of any kind, worst loss, middle': worst(losses(cases, first, 'middle')),
      'first-ranked of any kind, median loss, window': of(first, 'window'),
      'first-ranked of any kind, worst loss, window': worst(losses(cases, first, 'window')),
      'first-ranked but stacks, median loss, middle': of(single, 'middle'),
      'first-ranked but stacks, worst loss, middle': worst(losses(cases, single, 'middle')),
      'OpenCV template, median loss, middle': flat(
        (e) => e.prepared.oracle.middle - e.prepared.template.middle,
      ),
      'OpenCV template, worst loss, middle': worst(
        cases.map((e) => e.prepared.oracle.middle - e.prepared.template.middle),
      ),
      'OpenCV template, median loss, window': flat(
        (e) => e.prepared.oracle.window - e.prepared.template.window,
      ),
      'temporal median, median loss, middle': flat(
        (e) => e.prepared.oracle.middle - e.prepared.median.middle,
      ),
      'temporal median, worst loss, middle': worst(
        cases.map((e) => e.prepared.oracle.middle - e.prepared.median.middle),
      ),
      '2D offset error, px, worst': worst(cases.flatMap((e) => e.offsetErrors)),
      'stops error against the planted exposures, RMS': rms(cases.flatMap((e) => e.plantedStopsErrors)),
      candidates: cases.reduce((n, e) => n + e.candidates.length, 0),
      '"holds up"': good.length,
      [`truly empty donors within ${NEAR_DB} dB at the middle frame, %`]: shareNear(cases),
      'cases with no "holds up"': cases.filter((e) => e.candidates.every((c) => c.verdict !== 'holds up'))
        .length,
      'search, seconds, median': flat((e) => e.seconds),
    },
  }
}

/** What calling every truly empty donor good would come to: how much of the bar is in nearness, not emptiness. */
function shareNear(cases: readonly Evaluated[]): number | null {
  const near = cases.flatMap(({ prepared: { planted, oracle } }) =>
    oracle.donors
      .filter((d) => planted.labels[planted.frames.indexOf(d.frame)] === 'empty')
      .map((d) => (oracle.middle - d.middle <= NEAR_DB ? 100 : 0)),
  )
  return near.length > 0 ? near.reduce<number>((a, b) => a + b, 0) / near.length : null
}

function ofHopeless(cases: readonly Evaluated[]): Summary {
  const refuses = (e: Evaluated) => e.candidates.every((c) => c.verdict === 'will not hold')
  const refused = cases.filter(refuses).length
  return {
    variant: 'hopeless',
    cases: cases.length,
    bars: [
      {
        what: 'every candidate "will not hold", % of cases',
        figure: (100 * refused) / cases.length,
        least: 100,
      },
    ],
    notes: { candidates: cases.reduce((n, e) => n + e.candidates.length, 0) },
  }
}

export function passes({ figure, most, least }: Bar): boolean {
  if (figure === null) return false
  return (most === undefined || figure <= most) && (least === undefined || figure >= least)
}

/** One line per case. */
export function caseTable(cases: readonly Evaluated[]): string {
  const rows = cases.map((e) => {
    const { planted, oracle, template, median: still } = e.prepared
    const loss = (c: Judged | undefined, at: At) => (c ? db(oracle[at] - c[at]) : '-')
    const counts = (v: Judged['verdict']) => e.candidates.filter((c) => c.verdict === v).length
    const [top, h, s] = [first(e), hold(e), stack(e)]
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
      h?.id ?? 'none',
      h?.label ?? '-',
      loss(h, 'middle'),
      loss(h, 'window'),
      loss(s, 'middle'),
      loss(s, 'window'),
      db(oracle.middle - template.middle),
      db(oracle.middle - still.middle),
      figure(rms(e.offsetErrors)),
      figure(rms(e.stopsErrors)),
      `${counts('holds up')}/${counts('needs work')}/${counts('will not hold')}`,
      e.seconds.toFixed(1),
    ]
  })
  const head = `case window busy oracle over first truly verdict loss over hold
    truly loss over stack over OpenCV median px stops up:work:not s`.split(/\s+/)
  return aligned([head, ...rows])
}

/** Each bar of each variant, then what else was measured. */
export function summaryTable(summaries: readonly Summary[]): string {
  const bars = summaries.flatMap(({ variant, bars }) =>
    bars.map((bar) => [
      variant,
      bar.what,
      figure(bar.figure),
      bar.most !== undefined ? `<= ${bar.most}` : `>= ${bar.least}`,
      passes(bar) ? 'reached' : 'NOT REACHED',
    ]),
  )
  const notes = summaries.flatMap(({ variant, notes }) =>
    Object.entries(notes).map(([what, value]) => [variant, what, figure(value), '', '']),
  )
  return aligned([['variant', 'figure', 'value', 'bar', ''], ...bars, ...notes])
}

export async function writeReport(
  folder: string,
  name: string,
  report: {
    readonly footage: string
    readonly seed: string
    readonly summaries: readonly Summary[]
    readonly cases: readonly Evaluated[]
  },
): Promise<string> {
  await mkdir(folder, { recursive: true })
  const path = join(folder, `${name}.json`)
  const cases = report.cases.map(({ prepared, ...rest }) => {
    const { planted, oracle, template, median: still } = prepared
    const { donors, ...best } = oracle
    const { id, window, box, crop } = planted
    return { id, window, box, crop, oracle: best, template, median: still, ...rest }
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
