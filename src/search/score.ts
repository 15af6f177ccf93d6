// One formula from the measures to a score, and a verdict from their limits; prices and limits stand in measures.ts.
import { INVISIBLE_DB } from '../match/thresholds.js'
import type { CandidateKind } from './kinds.js'
import {
  BY_IMPORTANCE,
  counts,
  limitsOf,
  type MeasureKey,
  type Measures,
  measureOf,
  UNLIKE_DB,
} from './measures.js'
import type { Candidate, Verdict } from './result.js'

/**
 * 0 to 100: 100 * exp(-sum of price * fault) over the measures that count for the kind, each price and fault as the table
 * of measures has it. A measure that is absent costs as much as its worst acceptable value, unless the table says what it
 * counts as.
 */
export function scoreOf(m: Measures, kind: CandidateKind): number {
  let lost = 0
  for (const key of BY_IMPORTANCE) {
    if (!counts(key, kind)) continue
    const { perUnit, fault } = measureOf(key).price
    lost += perUnit * fault(m[key] ?? unknownValue(key))
  }
  return Math.round(1000 * Math.exp(-lost)) / 10
}

const VERDICTS: readonly Verdict[] = ['holds up', 'needs work', 'will not hold']

/** Best first: what holds up as it is comes before what needs work, however well that scores. */
export function byRank(a: Ranked, b: Ranked): number {
  return VERDICTS.indexOf(a.verdict) - VERDICTS.indexOf(b.verdict) || b.score - a.score
}

/** The one that less can be made of. */
export function worseOf(a: Verdict, b: Verdict): Verdict {
  return VERDICTS.indexOf(a) > VERDICTS.indexOf(b) ? a : b
}

type Ranked = Pick<Candidate, 'score' | 'verdict'>

function unknownValue(key: MeasureKey): number {
  const { price, limits } = measureOf(key)
  const [low, high] = limits.works
  return price.unknown ?? (Number.isFinite(high) ? high : low)
}

/** What the measures alone do not say, each a reason in words or null. */
export interface Reasons {
  /** Why there is no correlation. */
  readonly noCorrelation?: string | null
  /** Why nothing is known to be clean. */
  readonly noClean?: string | null
  /** Why nothing holds up without a look. */
  readonly doubt?: string | null
  /** Between which ends what is expected lies, dB; null: there is none. */
  readonly interval?: readonly [low: number, high: number] | null
  /** What will be seen of a fault, said instead of its measure. */
  readonly seen?: Seen
}

/** Words for the measures whose faults can be pointed at in the picture, and a step of the light that no measure has. */
export type Seen = Readonly<Partial<Record<'ncc' | 'seam' | 'clean' | 'step', string>>>

/** A step of the light along an edge shows, and a grade or a larger mask may mend it. */
const STEP_RANK = 0.5

/** Next to hopeless, as only a look tells. */
const DOUBT_RANK = 0.9

/** Where the truth may lie so much further off than is expected, dB, next to nothing is known. Doubt by the prior alone is 16. */
const MAX_DOUBT = 20

/** Is what is expected good enough, and yet one chance in twenty that nothing could be made of it, or that it is quite another thing? */
function maySpoil({ expected }: Measures, least: number): boolean {
  const { holds, works } = measureOf('expected').limits
  if (expected === null || expected < holds[0]) return false
  return least < works[0] || least < Math.min(expected, INVISIBLE_DB) - MAX_DOUBT
}

/** The verdict, and the reason in words: the worst measure first. */
export function judge(
  m: Measures,
  kind: CandidateKind,
  { noCorrelation = null, noClean = null, doubt = null, interval = null, seen = {} }: Reasons = {},
): { verdict: Verdict; why: string } {
  const faults: { rank: number; text: string }[] = []
  const words: Partial<Record<MeasureKey, string>> = seen
  const fit = { ...m, interval }
  for (const key of BY_IMPORTANCE) {
    const value = m[key]
    if (value === null || !counts(key, kind)) continue
    const { holds, works } = limitsOf(key, fit)
    if (value >= holds[0] && value <= holds[1]) continue
    const side = value < holds[0] ? 0 : 1
    faults.push({
      rank: (value - holds[side]) / (works[side] - holds[side]),
      text: words[key] ?? measureOf(key).beyond(value),
    })
  }
  if (m.clean === null) faults.push({ rank: 2, text: noClean ?? 'no donor pixel of the region can be seen' })
  // What is hopeless anyway needs no doubt beside it.
  if (doubt !== null && faults.every((f) => f.rank < 1)) faults.push({ rank: DOUBT_RANK, text: doubt })
  if (interval !== null && maySpoil(m, interval[0]))
    faults.push({
      rank: DOUBT_RANK,
      text: `it may ${interval[0] < UNLIKE_DB ? 'show something else altogether' : `be as far as ${interval[0].toFixed(0)} dB from the truth, which shows`}: this plate tells no better`,
    })
  if (seen.step !== undefined) faults.push({ rank: STEP_RANK, text: seen.step })
  if (noCorrelation !== null) faults.push({ rank: 0.1, text: noCorrelation })
  faults.sort((a, b) => b.rank - a.rank)
  const verdict: Verdict =
    faults.length === 0 ? 'holds up' : faults[0].rank >= 1 ? 'will not hold' : 'needs work'
  const why = faults.length === 0 ? praise(m) : [...new Set(faults.map((f) => f.text))].join('; ')
  return { verdict, why }
}

/** Words only, they decide nothing: up to this a seam is said to lie within the grain ... */
const WITHIN_GRAIN = 1.2
/** ... and light that differs by less than this, stops, is said to be the same. */
const SAME_STOPS = 0.02
/** ... and what falls short of the best by less, dB, is not said to. */
const NO_SHORTFALL = 0.05

function praise(m: Measures): string {
  const parts = ['the region is empty']
  if (m.seam !== null)
    parts.push(
      `the seam is ${m.seam <= WITHIN_GRAIN ? 'within the grain' : `at ${m.seam.toFixed(1)} times the grain`}`,
    )
  if (m.stops !== null) {
    parts.push(
      Math.abs(m.stops) < SAME_STOPS
        ? 'the light is the same'
        : `the light is matched by ${signed(m.stops)} stops`,
    )
  }
  if (m.shortfall !== null) {
    parts.push(
      m.shortfall < NO_SHORTFALL
        ? 'no donor of this footage is likely to be nearer'
        : `at most ${m.shortfall.toFixed(1)} dB short of the best donor, nineteen times in twenty`,
    )
  }
  return parts.join(', ')
}

function signed(value: number): string {
  return `${value < 0 ? '-' : '+'}${Math.abs(value).toFixed(2)}`
}
