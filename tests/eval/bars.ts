// What the cases of one variant come to: each bar with what was reached, and what else was measured.
import type { Evaluated, Judged } from './evaluate.js'
import type { Variant } from './motion.js'
import { median, rms, worst } from './statistics.js'
import { isMoving } from './views.js'

/** Whatever lies above this counts as this: no eye tells two such pictures apart. */
export const CAP_DB = 46
/** Candidates that are called good must lie this near to the oracle. */
const NEAR_DB = 3

export interface Bar {
  readonly what: string
  readonly figure: number | null
  /** Of a loss: the same without the cap. */
  readonly raw?: number | null
  readonly most?: number
  readonly least?: number
}

/** What one variant came to. Losses are oracle minus repair, dB, at the middle frame and over the window. */
export interface Summary {
  readonly variant: Variant
  readonly cases: number
  readonly bars: readonly Bar[]
  readonly notes: readonly Bar[]
}

export type At = 'middle' | 'window'
type Of = (e: Evaluated) => Figures | undefined
/** dB, of a candidate or of a baseline. */
type Figures = Readonly<Record<At, number>>

export const first = (e: Evaluated): Judged | undefined => e.candidates[0]
export const hold = ofKind('hold')
export const stack = ofKind('stack')
export const mosaic = ofKind('mosaic')
/** The highest-ranked that takes each frame from one donor frame. */
const single: Of = (e) => e.candidates.find((c) => c.kind !== 'stack' && (c.kind as string) !== 'mosaic')

function ofKind(kind: string) {
  return (e: Evaluated): Judged | undefined => e.candidates.find((c) => c.kind === kind)
}

/** Oracle minus what was reached, dB; with the cap on both. */
export function lossOf({ prepared: { oracle } }: Evaluated, reached: Figures, at: At): number {
  return Math.min(CAP_DB, oracle[at]) - Math.min(CAP_DB, reached[at])
}

/** The same without the cap. */
export function rawLossOf({ prepared: { oracle } }: Evaluated, reached: Figures, at: At): number {
  return oracle[at] - reached[at]
}

/** No such candidate at all is the worst of losses, not one left out of the sum. */
function losses(cases: readonly Evaluated[], of: Of, at: At, loss = lossOf): number[] {
  return cases.map((e) => {
    const reached = of(e)
    return reached === undefined ? Number.POSITIVE_INFINITY : loss(e, reached, at)
  })
}

/** Median and worst loss, each beside the raw one. */
function lossBars(
  what: string,
  cases: readonly Evaluated[],
  of: Of,
  at: At,
  limits: { median?: number; worst?: number } = {},
): Bar[] {
  const capped = losses(cases, of, at)
  const raw = losses(cases, of, at, rawLossOf)
  return [
    { what: `${what}, median loss, ${at}`, figure: median(capped), raw: median(raw), most: limits.median },
    { what: `${what}, worst loss, ${at}`, figure: worst(capped), raw: worst(raw), most: limits.worst },
  ]
}

export function summarise(variant: Variant, cases: readonly Evaluated[]): Summary {
  const named = { hopeless: ofHopeless, never: ofNever }[variant as string]
  const of = named ?? (isMoving(variant) ? ofMoving : ofHopeful)
  return { variant, cases: cases.length, ...of(variant, cases) }
}

type Parts = Pick<Summary, 'bars' | 'notes'>

function ofHopeful(variant: Variant, cases: readonly Evaluated[]): Parts {
  const limits = { median: 0.2, worst: 2 }
  const bars: Bar[] = [
    ...lossBars('first', cases, first, 'window', limits),
    ...lossBars('first', cases, first, 'middle', limits),
    {
      what: 'disturbed donor ranked first, cases',
      figure: cases.filter((e) => first(e)?.label === 'disturbed').length,
      most: 0,
    },
    ...verdictBars(cases),
    ...coverageBars(cases),
  ]
  if (variant === 'sway') {
    const offsets = cases.flatMap((e) => e.offsetErrors)
    bars.push({ what: '2D offset error, px RMS', figure: rms(offsets), most: 0.05 })
  }
  bars.push({ what: 'stops error, RMS', figure: rms(cases.flatMap((e) => e.stopsErrors)), most: 0.01 })
  bars.push(...writtenBars(cases))
  const notes: Bar[] = [
    ...oracleNotes(cases),
    ...writtenNotes(cases),
    ...lossBars('first of one donor a frame', cases, single, 'window'),
    ...lossBars('hold', cases, hold, 'window'),
    ...lossBars('stack', cases, stack, 'window'),
    ...lossBars('OpenCV template', cases, (e) => e.prepared.template, 'window'),
    ...lossBars('temporal median', cases, (e) => e.prepared.median, 'window'),
    { what: '2D offset error, px, worst', figure: worst(cases.flatMap((e) => e.offsetErrors)) },
    {
      what: 'stops error against the planted exposures, RMS',
      figure: rms(cases.flatMap((e) => e.plantedStopsErrors)),
    },
    { what: `truly empty donors within ${NEAR_DB} dB at the middle frame, %`, figure: shareNear(cases) },
    ...countNotes(cases),
  ]
  return { bars, notes }
}

/** What `patch` writes by default, beside the truth: ratios are 1 where it looks as the true picture does. */
function writtenBars(cases: readonly Evaluated[]): Bar[] {
  const of = cases.flatMap((e) => e.written ?? [])
  const within = (ratio: number) => ratio >= 0.9 && ratio <= 1.1
  return [
    { what: 'written: seam over the truth’s, worst', figure: worst(of.map((w) => w.seam)), most: 1.1 },
    {
      what: 'written: flicker within 0.9 to 1.1 of the truth’s, % of cases',
      figure: share(of.map((w) => within(w.flicker))),
      least: 95,
    },
    {
      what: 'written: noise of every channel within 0.9 to 1.1, % of cases',
      figure: share(of.map((w) => w.noise.every(within))),
      least: 95,
    },
    {
      what: 'first before grain no worse than the best single donor, % of cases',
      figure: share(cases.map((e) => first(e) !== undefined && rawLossOf(e, first(e)!, 'window') <= 0)),
      least: 100,
    },
  ]
}

function writtenNotes(cases: readonly Evaluated[]): Bar[] {
  const of = cases.flatMap((e) => e.written ?? [])
  return [
    { what: 'written: dB over the window, grain and all, median', figure: median(of.map((w) => w.window)) },
    { what: 'written: structural similarity, median', figure: median(of.map((w) => w.ssim)) },
    { what: 'written: flicker over the truth’s, median', figure: median(of.map((w) => w.flicker)) },
    { what: 'written: noise of green over the truth’s, median', figure: median(of.map((w) => w.noise[1])) },
    {
      what: 'written: spectrum of the change off the truth’s, dB, median',
      figure: median(of.map((w) => w.spectrum)),
    },
  ]
}

function ofNever(_variant: Variant, cases: readonly Evaluated[]): Parts {
  const seams = cases.flatMap((e) => mosaic(e)?.seamStep ?? [])
  const bars: Bar[] = [
    ...lossBars('mosaic', cases, mosaic, 'window', { median: 1.5 }),
    ...lossBars('mosaic', cases, mosaic, 'middle', { median: 1.5 }),
    { what: "mosaic, step across seams over the truth's, median", figure: median(seams), most: 1.2 },
    ...verdictBars(cases).slice(0, 1),
    ...coverageBars(cases),
  ]
  const notes: Bar[] = [
    ...oracleNotes(cases),
    { what: "mosaic, step across seams over the truth's, worst", figure: worst(seams) },
    {
      what: 'mosaic that lends somebody, cases',
      figure: cases.filter((e) => mosaic(e)?.label === 'disturbed').length,
    },
    ...lossBars('first', cases, first, 'window'),
    ...lossBars('best single donor there is', cases, (e) => e.prepared.oracle.thirds?.alone, 'window'),
    ...lossBars('temporal median', cases, (e) => e.prepared.median, 'window'),
    ...countNotes(cases),
  ]
  return { bars, notes }
}

/** Place errors are RMS over the region, pixels, of every pair of frames whose donor sees all of it. */
function ofMoving(variant: Variant, cases: readonly Evaluated[]): Parts {
  const limits = variant === 'handheld' ? { median: 2, worst: 2 } : { median: 0.5, worst: 3 }
  const firsts = cases.flatMap((e) => first(e)?.places ?? [])
  const holding = cases.flatMap((e) => e.candidates.filter((c) => c.verdict !== 'will not hold'))
  const places = holding.flatMap((c) => c.places)
  const [good, won] = verdictBars(cases)
  const bars: Bar[] = [
    ...lossBars('first', cases, first, 'window', limits),
    ...lossBars('first', cases, first, 'middle', limits),
    {
      what: 'disturbed donor ranked first, cases',
      figure: cases.filter((e) => first(e)?.label === 'disturbed').length,
      most: 0,
    },
    good,
    { what: 'place error, first, px RMS', figure: rms(firsts), most: 0.1 },
    { what: 'place error, all that may hold, px RMS', figure: rms(places), most: 0.1 },
    {
      what: '"holds up" in a wrong place, candidates',
      figure: holding.filter((c) => c.verdict === 'holds up' && c.misplaced).length,
      most: 0,
    },
  ]
  const notes: Bar[] = [
    ...oracleNotes(cases),
    ...lossBars('first of one donor a frame', cases, single, 'window'),
    ...lossBars('stack', cases, stack, 'window'),
    { ...won, least: undefined },
    { what: 'place error, first, px, median', figure: median(firsts) },
    { what: 'place error, first, px, worst', figure: worst(firsts) },
    { what: 'place error, all that may hold, px, median', figure: median(places) },
    { what: 'place error, all that may hold, px, worst', figure: worst(places) },
    ...countNotes(cases),
  ]
  return { bars, notes }
}

function ofHopeless(_variant: Variant, cases: readonly Evaluated[]): Parts {
  const refuses = (e: Evaluated) => e.candidates.every((c) => c.verdict === 'will not hold')
  return {
    bars: [
      {
        what: 'every candidate "will not hold", % of cases',
        figure: share(cases.map(refuses)),
        least: 100,
      },
    ],
    notes: [{ what: 'candidates', figure: cases.reduce((n, e) => n + e.candidates.length, 0) }],
  }
}

function verdictBars(cases: readonly Evaluated[]): Bar[] {
  const good = (c: Judged | undefined) => c?.verdict === 'holds up'
  const near = (e: Evaluated, c: Judged | undefined) => c !== undefined && lossOf(e, c, 'window') <= NEAR_DB
  const nearGood = cases.flatMap((e) => e.candidates.filter(good).map((c) => near(e, c)))
  // The oracle's donor is within reach of itself, so there is no case that could not have been won.
  const won = cases.map((e) => good(first(e)) && near(e, first(e)))
  return [
    { what: `"holds up" within ${NEAR_DB} dB, %`, figure: share(nearGood), least: 97 },
    { what: `first "holds up" and within ${NEAR_DB} dB, % of cases`, figure: share(won), least: 85 },
  ]
}

/** Intervals are of 90 %: that they hold the truth more often than 95 % makes them too wide to be of use. */
function coverageBars(cases: readonly Evaluated[]): Bar[] {
  const covered = (list: readonly (Judged | undefined)[]) =>
    share(list.flatMap((c) => (c === undefined ? [] : (coverOf(c) ?? []))).map((where) => where === 'in'))
  const limits = { least: 85, most: 95 }
  return [
    { what: 'intervals that hold the truth, first, %', figure: covered(cases.map(first)), ...limits },
    {
      what: 'intervals that hold the truth, all, %',
      figure: covered(cases.flatMap((e) => e.candidates)),
      ...limits,
    },
  ]
}

/** Where the truth lies by the candidate's own interval; null where it has none. */
export function coverOf({ expected, windowLuminance }: Judged): 'in' | 'below' | 'above' | null {
  if (expected === null) return null
  if (windowLuminance < expected.low) return 'below'
  return windowLuminance > expected.high ? 'above' : 'in'
}

/** What calling every truly empty donor good would come to: how much of the bar is in nearness, not emptiness. */
function shareNear(cases: readonly Evaluated[]): number | null {
  return share(
    cases.flatMap(({ prepared: { planted, oracle } }) =>
      oracle.donors
        .filter((d) => planted.labels[planted.frames.indexOf(d.frame)] === 'empty')
        .map((d) => Math.min(CAP_DB, oracle.middle) - Math.min(CAP_DB, d.middle) <= NEAR_DB),
    ),
  )
}

function oracleNotes(cases: readonly Evaluated[]): Bar[] {
  return [
    { what: 'oracle, dB, window, median', figure: median(cases.map((e) => e.prepared.oracle.window)) },
    { what: 'oracle, dB, middle, median', figure: median(cases.map((e) => e.prepared.oracle.middle)) },
  ]
}

function countNotes(cases: readonly Evaluated[]): Bar[] {
  const all = cases.flatMap((e) => e.candidates)
  const none = cases.filter((e) => e.candidates.every((c) => c.verdict !== 'holds up'))
  return [
    { what: 'candidates', figure: all.length },
    { what: '"holds up"', figure: all.filter((c) => c.verdict === 'holds up').length },
    { what: 'cases with no "holds up"', figure: none.length },
    { what: 'search, seconds, median', figure: median(cases.map((e) => e.seconds)) },
  ]
}

function share(list: readonly boolean[]): number | null {
  return list.length > 0 ? (100 * list.filter(Boolean).length) / list.length : null
}

export function passes({ figure, most, least }: Bar): boolean {
  if (figure === null) return false
  return (most === undefined || figure <= most) && (least === undefined || figure >= least)
}
