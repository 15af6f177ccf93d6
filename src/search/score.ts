// One formula from the measures to a score, and the thresholds that make a verdict of it. All that judges footage is here.
import { CLEAN_SHARE } from '../match/thresholds.js'
import type { Candidate, CandidateKind, Verdict } from './result.js'

export type Measures = Pick<
  Candidate,
  'ncc' | 'stops' | 'seam' | 'inside' | 'clean' | 'grain' | 'sharpness' | 'steadiness' | 'life'
>

/** The range in which a measure lets a candidate hold up, and the wider one in which it still can be worked on. */
export interface Limit {
  readonly holds: readonly [low: number, high: number]
  readonly works: readonly [low: number, high: number]
}

const INF = Number.POSITIVE_INFINITY

export const LIMITS = {
  ncc: { holds: [0.8, INF], works: [0.4, INF] },
  stops: { holds: [-1, 1], works: [-3, 3] },
  seam: { holds: [0, 1.8], works: [0, 5] },
  // Planted truth in real footage: with 1.12 one in twelve of what held up lay more than 3 dB below the best donor.
  inside: { holds: [0, 1.09], works: [0, 3] },
  clean: { holds: [CLEAN_SHARE, INF], works: [0.9, INF] },
  // A patch gets back the grain it lacks, so only what is all but smooth, or far noisier, needs a look.
  grain: { holds: [0.1, 1.6], works: [0.02, 4] },
  sharpness: { holds: [0.7, 1.4], works: [0.4, 2.5] },
  steadiness: { holds: [0, 0.5], works: [0, 1] },
  // Measured: the quay's water 0.65, its wall 0, paving and grass in locked-off coded footage 0.11 to 0.13.
  life: { holds: [0, 0.3], works: [0, 1.5] },
} as const satisfies Record<keyof Measures, Limit>

/** Score lost per unit of each measure's fault, as exponents: 100 * exp(-sum). */
const PRICE = {
  inside: 0.4,
  seam: 0.02,
  clean: 6,
  ncc: 0.1,
  stops: 0.02,
  grain: 0.01,
  sharpness: 0.01,
  steadiness: 0.05,
  life: 0.3,
}

/**
 * 0 to 100: 100 * exp(-(0.4 inside + 0.02 seam + 6 (1 - clean) + 0.1 (1 - ncc) + 0.02 |stops| + 0.01 |log2 grain| +
 * 0.01 |log2 sharpness| + 0.05 steadiness + 0.3 life)). `inside` counts from 0.7 and `seam` from 0.5 up, `life` for
 * holds and beyond what holds up. A measure that is absent costs as much as its worst acceptable value.
 */
export function scoreOf(m: Measures, kind: CandidateKind): number {
  const lost =
    PRICE.inside * Math.max(0, (m.inside ?? LIMITS.inside.works[1]) - 0.7) +
    PRICE.seam * Math.max(0, (m.seam ?? LIMITS.seam.works[1]) - 0.5) +
    PRICE.clean * (1 - (m.clean ?? 0)) +
    PRICE.ncc * (1 - (m.ncc ?? LIMITS.ncc.works[0])) +
    PRICE.stops * Math.abs(m.stops ?? LIMITS.stops.works[1]) +
    PRICE.grain * Math.abs(Math.log2(Math.max(m.grain ?? 1, 0.01))) +
    PRICE.sharpness * Math.abs(Math.log2(Math.max(m.sharpness ?? 1, 0.01))) +
    PRICE.steadiness * (m.steadiness ?? 0) +
    PRICE.life * (kind === 'hold' ? Math.max(0, (m.life ?? 0) - LIMITS.life.holds[1]) : 0)
  return Math.round(1000 * Math.exp(-lost)) / 10
}

/** What the measures alone do not say, each a reason in words or null. */
export interface Reasons {
  /** Why there is no correlation. */
  readonly noCorrelation?: string | null
  /** Why nothing is known to be clean. */
  readonly noClean?: string | null
  /** Why nothing holds up without a look. */
  readonly doubt?: string | null
}

/** The verdict, and the reason in words: the worst measure first. */
export function judge(
  m: Measures,
  kind: CandidateKind,
  { noCorrelation = null, noClean = null, doubt = null }: Reasons = {},
): { verdict: Verdict; why: string } {
  const faults: { rank: number; text: string }[] = []
  const check = (key: keyof Measures, text: (value: number) => string): void => {
    const value = m[key]
    if (value === null) return
    const { holds, works } = LIMITS[key]
    if (value >= holds[0] && value <= holds[1]) return
    const side = value < holds[0] ? 0 : 1
    faults.push({ rank: (value - holds[side]) / (works[side] - holds[side]), text: text(value) })
  }
  check('clean', (v) => `${percent(1 - v)} of the region is not empty in the donor`)
  check('inside', (v) => `its error in the region is likely ${v.toFixed(2)} times that of the best donor`)
  check('seam', (v) => `the seam shows at ${v.toFixed(1)} times the grain`)
  check('ncc', (v) => `the surround correlates at only ${v.toFixed(2)}`)
  check('stops', (v) => `the light differs by ${Math.abs(v).toFixed(1)} stops`)
  check('grain', (v) => `its grain is ${v.toFixed(2)} of the target's`)
  check('sharpness', (v) => `the donor has ${percent(v)} of the target's detail`)
  check('steadiness', (v) => `the offset jitters by ${v.toFixed(2)} px`)
  if (kind === 'hold') check('life', () => 'it would freeze the movement round the region')
  if (m.clean === null) faults.push({ rank: 2, text: noClean ?? 'no donor pixel of the region can be seen' })
  // What is hopeless anyway needs no doubt beside it.
  if (doubt !== null && faults.every((f) => f.rank < 1)) faults.push({ rank: 0.9, text: doubt })
  if (noCorrelation !== null) faults.push({ rank: 0.1, text: noCorrelation })
  faults.sort((a, b) => b.rank - a.rank)
  const verdict: Verdict =
    faults.length === 0 ? 'holds up' : faults[0].rank >= 1 ? 'will not hold' : 'needs work'
  const why = faults.length === 0 ? praise(m) : faults.map((f) => f.text).join('; ')
  return { verdict, why }
}

function praise(m: Measures): string {
  const parts = ['the region is empty']
  if (m.seam !== null)
    parts.push(
      `the seam is ${m.seam <= 1.2 ? 'within the grain' : `at ${m.seam.toFixed(1)} times the grain`}`,
    )
  if (m.stops !== null) {
    parts.push(
      Math.abs(m.stops) < 0.02 ? 'the light is the same' : `the light is matched by ${signed(m.stops)} stops`,
    )
  }
  return parts.join(', ')
}

function percent(share: number): string {
  return `${(100 * share).toFixed(share < 0.1 ? 1 : 0)} %`
}

function signed(value: number): string {
  return `${value < 0 ? '-' : '+'}${Math.abs(value).toFixed(2)}`
}
