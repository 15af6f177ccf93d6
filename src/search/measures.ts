// The one table of measures. Result schema, score, verdict, CSV, sheet, sorting, terminal and README follow it, in its
// order: a new measure is an entry here and its computation in measure.ts. The page reads it, too, so it imports no code
// that a page can't run.
import { CLEAN_SHARE } from '../match/thresholds.js'
import { type CandidateKind, KINDS } from './kinds.js'

type Range = readonly [low: number, high: number]

/** The range in which a measure lets a candidate hold up, and the wider one in which it still can be worked on. */
export interface Limit {
  readonly holds: Range
  readonly works: Range
}

/** What a limit may hang on: how a surround fits, and how near the region is known to come to the truth. */
export interface Fit {
  readonly ncc?: number | null
  readonly seam?: number | null
  /** Between which ends what it comes to inside the region lies, dB, as a candidate has it. */
  readonly interval?: readonly [low: number, high: number] | null
}

export interface Measure {
  /** As people read it. */
  readonly label: string
  /** What it says, for someone who meets it for the first time. */
  readonly meaning: string
  /** After the figures; empty: a share or a ratio. */
  readonly unit: string
  readonly digits: number
  /** A plus is written before what is above 0. */
  readonly signed?: true
  /** Its column in candidates.csv. */
  readonly column: string
  /** Which value no other one beats. */
  readonly best: 'most' | 'least' | 'zero' | 'one'
  /** The ends beyond which it can't lie. */
  readonly bounds: Range
  readonly limits: Limit
  /** The limits of a candidate or frame by what else is known of it; absent: the same for all. */
  readonly limitsOf?: (fit: Fit) => Limit
  /** What the limits were measured on. */
  readonly measured: string
  /** What it costs in the score, and what a value beyond the limit is called. */
  readonly price: Price
  readonly beyond: (value: number) => string
  /** Whether it counts for a kind of candidate; absent: it does for all of them. */
  readonly countsFor?: (kind: CandidateKind) => boolean
  /** Shown in the terminal's table, which has not room for all. */
  readonly inTerminal?: true
  /** What there is of it for each frame; absent: it is known over the range alone. */
  readonly perFrame?: {
    /** In the sheet's table of frames. */
    readonly listed?: true
    /** How the sheet draws it; `least`: never stretched so far that less than this fills the plot. */
    readonly plot?: { readonly digits: number; readonly least: number }
  }
}

interface Price {
  /** Exponent per unit of the fault, of 100 * exp(-sum). */
  readonly perUnit: number
  /** 0 where there is no fault, more the worse it is. */
  readonly fault: (value: number) => number
  /** The value that an absent one counts as; absent itself: the worst that can still be worked on. */
  readonly unknown?: number
}

const INF = Number.POSITIVE_INFINITY
/** A ratio this far from 1 is as bad as can be: beyond it the logarithm would run away. */
const MIN_RATIO = 0.01
/** Movement of the surround that may be frozen. */
const FREEZABLE = 0.3
/**
 * What is so near to the truth, dB, even if it comes out badly, is judged by that alone where its surround tells of nothing. What
 * shows the same on every frame has no movement of the region to freeze then: 2.5 of 255 codes, grain and all.
 */
const NEAR_DB = 40

/** From here on, dB, nothing is to be gained: what 16-bit plates differ by that show the same. */
const FAULTLESS_DB = 60
/**
 * So far from the truth is another picture, a third of all that codes span on every pixel, and how many dB less it is says
 * nothing to anybody. Words only, set by judgement: it decides nothing.
 */
export const UNLIKE_DB = 10

const NCC: Limit = { holds: [0.8, INF], works: [0.4, INF] }
/** Where less of what varies is picture, there is more grain than that, and nothing tells how much more. */
const MIN_PICTURE_SHARE = 0.5

/**
 * What two exposures of the very same surround would correlate at, given its grain: the share of what varies in it that is
 * picture. The difference of two pictures has 2 (1 - ncc) of what varies in either, and seam tells it over that of their grain.
 *
 * @returns above 1 or below 0 where grain varies by chance; null where it is not known
 *
 * C. Spearman, The Proof and Measurement of Association between Two Things, 1904: the reliability of a measurement.
 */
function pictureShare({ ncc, seam }: Required<Pick<Fit, 'ncc' | 'seam'>>): number | null {
  return ncc === null || !seam ? null : 1 - (1 - ncc) / seam ** 2
}

/**
 * A limit on the correlation that there would be without grain, which attenuates it by as much as that of an exact fit. Where
 * hardly anything but grain varies, as in a plain sky, it tells of no fit, and of no misfit either: the region itself has to.
 */
function nccLimits({ ncc = null, seam = null, interval = null }: Fit): Limit {
  const share = pictureShare({ ncc, seam })
  if (share !== null && share < MIN_PICTURE_SHARE)
    return { holds: isNearAtWorst(interval) ? [-1, INF] : NCC.holds, works: [-1, INF] }
  const [low, high] = NCC.holds
  return { holds: [low * Math.min(1, share ?? 1), high], works: NCC.works }
}

const LIFE: Limit = { holds: [0, FREEZABLE], works: [0, 1.5] }

/** What moves beside a region that is known to stand still is not frozen in it. */
function lifeLimits({ interval = null }: Fit): Limit {
  return isNearAtWorst(interval) ? { holds: [0, INF], works: [0, INF] } : LIFE
}

function isNearAtWorst(interval: Fit['interval']): boolean {
  return !!interval && interval[0] >= NEAR_DB
}

/** Half is as far off as twice. */
const octaves = (ratio: number) => Math.abs(Math.log2(Math.max(ratio, MIN_RATIO)))
const above = (from: number) => (value: number) => Math.max(0, value - from)

export const MEASURES = {
  ncc: {
    label: 'ncc',
    meaning: 'correlation of the surround, -1 to 1; absent where it is flat, clipped or hidden',
    unit: '',
    digits: 4,
    column: 'ncc',
    best: 'most',
    bounds: [-1, 1],
    limits: NCC,
    limitsOf: nccLimits,
    measured:
      'nothing was: set by judgement; under grain it is 0.8 of what the same picture would correlate at in two exposures',
    price: { perUnit: 0.1, fault: (v) => 1 - v },
    beyond: (v) => `the surround correlates at only ${v.toFixed(2)}`,
    inTerminal: true,
    perFrame: { listed: true, plot: { digits: 3, least: 0.01 } },
  },
  stops: {
    label: 'stops',
    meaning: 'luminance of target over donor on the surround, log base 2',
    unit: '',
    digits: 2,
    signed: true,
    column: 'stops',
    best: 'zero',
    bounds: [-INF, INF],
    limits: { holds: [-1, 1], works: [-3, 3] },
    measured: 'nothing was: set by judgement',
    price: { perUnit: 0.02, fault: Math.abs },
    beyond: (v) => `the light differs by ${Math.abs(v).toFixed(1)} stops`,
    inTerminal: true,
    perFrame: { listed: true, plot: { digits: 2, least: 0.1 } },
  },
  seam: {
    label: 'seam',
    meaning:
      'difference on the surround after the light is matched, over what grain alone gives (1 = the limit)',
    unit: '',
    digits: 2,
    column: 'seam',
    best: 'least',
    bounds: [0, INF],
    limits: { holds: [0, 1.8], works: [0, 5] },
    measured: 'nothing was: set by judgement',
    price: { perUnit: 0.02, fault: above(0.5) },
    beyond: (v) => `the seam shows at ${v.toFixed(1)} times the grain`,
    inTerminal: true,
    perFrame: { listed: true, plot: { digits: 2, least: 0.5 } },
  },
  expected: {
    label: 'expected',
    meaning:
      'expected likeness to the truth inside the region, dB of peak signal to noise of display-encoded luminance, learnt from this plate: 46 and more no eye tells apart; a borrow has none',
    unit: 'dB',
    digits: 1,
    column: 'expected_db',
    best: 'most',
    bounds: [-30, 99],
    limits: { holds: [28, INF], works: [20, INF] },
    measured: 'nothing was: set by judgement; what counts beside it is what else the plate has to give',
    price: { perUnit: 0.02, fault: (v) => Math.max(0, FAULTLESS_DB - v), unknown: FAULTLESS_DB },
    beyond: (v) =>
      v < UNLIKE_DB
        ? 'it is likely to show something else altogether'
        : `it is likely ${v.toFixed(0)} dB from the truth, which shows`,
    inTerminal: true,
    perFrame: {},
  },
  clean: {
    label: 'clean',
    meaning: 'share of the region that shows the clean plate; over a range, on its worst frame',
    unit: '',
    digits: 3,
    column: 'clean',
    best: 'most',
    bounds: [0, 1],
    limits: { holds: [CLEAN_SHARE, INF], works: [0.9, INF] },
    measured: 'the share from which a frame counts as clean: src/match/thresholds.ts',
    price: { perUnit: 6, fault: (v) => 1 - v, unknown: 0 },
    beyond: (v) => `${percent(1 - v)} of the region is not empty in the donor`,
    inTerminal: true,
    perFrame: { listed: true },
  },
  shortfall: {
    label: 'shortfall',
    meaning:
      'with nineteen chances in twenty no more than so many dB worse inside than the best single donor this footage has; a borrow has none',
    unit: 'dB',
    digits: 1,
    column: 'shortfall_db',
    best: 'least',
    bounds: [0, INF],
    limits: { holds: [0, 3], works: [0, 30] },
    measured:
      'no limit of quality: 3 dB is what a patch may fall short of the best and pass review beside it',
    price: { perUnit: 0.02, fault: (v) => v },
    beyond: (v) => `it may be ${v.toFixed(1)} dB worse inside than the best this footage has`,
  },
  grain: {
    label: 'grain',
    meaning: 'noise of donor over target, after resampling and averaging',
    unit: '',
    digits: 2,
    column: 'grain',
    best: 'one',
    bounds: [0, INF],
    limits: { holds: [0, 1.6], works: [0, 4] },
    measured:
      'a patch gets back the grain it lacks: on a coded road, donors without any of their own lay within 0.6 dB of the best; how much noisier one may be was set by judgement',
    price: { perUnit: 0.01, fault: octaves, unknown: 1 },
    beyond: (v) => `it is grainier than the target, with ${v.toFixed(2)} times its grain`,
  },
  sharpness: {
    label: 'sharpness',
    meaning: 'detail of donor over target on the surround',
    unit: '',
    digits: 2,
    column: 'sharpness',
    best: 'one',
    bounds: [0, INF],
    limits: { holds: [0.7, 1.4], works: [0.4, 2.5] },
    measured: 'nothing was: set by judgement',
    price: { perUnit: 0.01, fault: octaves, unknown: 1 },
    beyond: (v) => `it is ${v < 1 ? 'softer' : 'sharper'} than the target, with ${percent(v)} of its detail`,
  },
  steadiness: {
    label: 'steadiness',
    meaning:
      'jitter of the 2D offset from frame to frame, pixels; under a camera that moves, of what is left of it',
    unit: 'px',
    digits: 3,
    column: 'steadiness_px',
    best: 'least',
    bounds: [0, INF],
    limits: { holds: [0, 1], works: [0, 3] },
    measured:
      'a camera that was shaken by 0.25 px a frame comes to 0.35 for a hold and 0.5 for a run, and both lie right to 0.05 px',
    price: { perUnit: 0.05, fault: (v) => v, unknown: 0 },
    beyond: (v) => `it jitters from frame to frame, by ${v.toFixed(2)} px`,
  },
  life: {
    label: 'life',
    meaning:
      "share of the surround's detail that is another one in the next frame: 0 stands still, near 1 is water",
    unit: '',
    digits: 2,
    column: 'life',
    best: 'least',
    bounds: [0, INF],
    limits: LIFE,
    limitsOf: lifeLimits,
    measured:
      "the quay's water has 0.65, its wall 0, paving and grass in locked-off coded footage 0.11 to 0.13; beside a region that is known to stand still it counts nothing",
    price: { perUnit: 0.3, fault: above(FREEZABLE), unknown: 0 },
    beyond: () => 'it would freeze the movement round the region',
    countsFor: (kind) => KINDS[kind].frozen,
  },
} as const satisfies Readonly<Record<string, Measure>>

export type MeasureKey = keyof typeof MEASURES
/** The measures that are known per frame. */
export type FrameMeasureKey = {
  [K in MeasureKey]: (typeof MEASURES)[K] extends { perFrame: object } ? K : never
}[MeasureKey]
/** A candidate's numbers; null where footage has none. */
export type Measures = Readonly<Record<MeasureKey, number | null>>

/** Keys in the table's order. */
export const MEASURE_KEYS = Object.keys(MEASURES) as readonly MeasureKey[]
export const FRAME_MEASURE_KEYS = MEASURE_KEYS.filter(
  (key): key is FrameMeasureKey => measureOf(key).perFrame !== undefined,
)
/** The limits alone. */
export const LIMITS = recordOf(MEASURE_KEYS, (key): Limit => measureOf(key).limits)

/** The order in which faults are priced, and told where they weigh the same: what lies in the region before what surrounds it. */
const FIRST: readonly MeasureKey[] = ['clean', 'shortfall', 'seam']
export const BY_IMPORTANCE: readonly MeasureKey[] = [
  ...FIRST,
  ...MEASURE_KEYS.filter((key) => !FIRST.includes(key)),
]

export function measureOf(key: MeasureKey): Measure {
  return MEASURES[key]
}

/** The limits that count for a candidate, or for one frame of it. */
export function limitsOf(key: MeasureKey, fit: Fit): Limit {
  const { limits, limitsOf: own } = measureOf(key)
  return own?.(fit) ?? limits
}

/** Does the measure count for a candidate of this kind? */
export function counts(key: MeasureKey, kind: CandidateKind): boolean {
  return measureOf(key).countsFor?.(kind) ?? true
}

/** A record with a value for each key, in the keys' order. */
export function recordOf<K extends string, V>(keys: readonly K[], value: (key: K) => V): Record<K, V> {
  return Object.fromEntries(keys.map((key) => [key, value(key)])) as Record<K, V>
}

/** A share as people read it. */
export function percent(share: number): string {
  return `${(100 * share).toFixed(share < 0.1 ? 1 : 0)} %`
}
