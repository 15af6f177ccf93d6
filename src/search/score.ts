// One formula from the measures to a score, and the thresholds that make a verdict of it. All that judges footage is here.
import type { Candidate, CandidateKind, Verdict } from './result.js'

export type Measures = Pick<
  Candidate,
  'ncc' | 'stops' | 'seam' | 'inside' | 'clean' | 'grain' | 'sharpness' | 'steadiness' | 'life'
>

/** What each measure may be for `holds up`, and beyond which it `will not hold`. */
export interface Threshold {
  readonly good: number
  readonly bad: number
  /** True where larger is better. */
  readonly atLeast: boolean
}

export const THRESHOLDS = {
  ncc: { good: 0.8, bad: 0.4, atLeast: true },
  stops: { good: 1, bad: 3, atLeast: false },
  seam: { good: 1.8, bad: 5, atLeast: false },
  inside: { good: 1.6, bad: 4, atLeast: false },
  clean: { good: 0.985, bad: 0.9, atLeast: true },
  grain: { good: 0.6, bad: 0.2, atLeast: true },
  sharpness: { good: 0.8, bad: 0.4, atLeast: true },
  steadiness: { good: 0.15, bad: 1, atLeast: false },
  life: { good: 1.5, bad: 6, atLeast: false },
} as const satisfies Record<keyof Measures, Threshold>

/** Score lost per unit of each measure's fault, as exponents: 100 * exp(-sum). */
const PRICE = {
  inside: 0.12,
  seam: 0.06,
  clean: 6,
  ncc: 0.5,
  stops: 0.04,
  grain: 0.05,
  sharpness: 0.1,
  steadiness: 0.3,
  life: 0.04,
}

/**
 * 0 to 100: 100 * exp(-(0.12 inside + 0.06 seam + 6 (1 - clean) + 0.5 (1 - ncc) + 0.04 |stops| + 0.05 |log2 grain| +
 * 0.1 |log2 sharpness| + 0.3 steadiness + 0.04 life, for holds)), where inside and seam count from half the grain limit
 * up. A measure that is absent costs as much as its worst acceptable value.
 */
export function scoreOf(m: Measures, kind: CandidateKind): number {
  const lost =
    PRICE.inside * Math.max(0, (m.inside ?? THRESHOLDS.inside.bad) - 0.5) +
    PRICE.seam * Math.max(0, (m.seam ?? THRESHOLDS.seam.bad) - 0.5) +
    PRICE.clean * (1 - (m.clean ?? 0)) +
    PRICE.ncc * (1 - (m.ncc ?? THRESHOLDS.ncc.bad)) +
    PRICE.stops * Math.abs(m.stops ?? THRESHOLDS.stops.bad) +
    PRICE.grain * Math.abs(Math.log2(Math.max(m.grain ?? 1, 0.01))) +
    PRICE.sharpness * Math.abs(Math.log2(Math.max(m.sharpness ?? 1, 0.01))) +
    PRICE.steadiness * (m.steadiness ?? 0) +
    PRICE.life * (kind === 'hold' ? (m.life ?? 0) : 0)
  return Math.round(1000 * Math.exp(-lost)) / 10
}

/** The verdict, and the reason in words: the worst measure first. */
export function judge(
  m: Measures,
  kind: CandidateKind,
  noCorrelation: string | null,
): { verdict: Verdict; why: string } {
  const faults: { rank: number; text: string }[] = []
  const check = (key: keyof Measures, text: (value: number) => string): void => {
    const value = m[key]
    if (value === null) return
    const { good, bad, atLeast } = THRESHOLDS[key]
    const over = atLeast ? good - value : value - good
    if (over <= 0) return
    faults.push({ rank: over / Math.abs(bad - good), text: text(value) })
  }
  check('clean', (v) => `${percent(1 - v)} of the region is not empty in the donor`)
  check('inside', (v) => `the region differs from the plate's empty state by ${v.toFixed(1)} times the grain`)
  check('seam', (v) => `the seam shows at ${v.toFixed(1)} times the grain`)
  check('ncc', (v) => `the surround correlates at only ${v.toFixed(2)}`)
  if (m.stops !== null && Math.abs(m.stops) > THRESHOLDS.stops.good) {
    const rank = (Math.abs(m.stops) - THRESHOLDS.stops.good) / (THRESHOLDS.stops.bad - THRESHOLDS.stops.good)
    faults.push({ rank, text: `the light differs by ${Math.abs(m.stops).toFixed(1)} stops` })
  }
  check('sharpness', (v) => `the donor is softer, ${percent(v)} of the target's detail`)
  check('steadiness', (v) => `the offset jitters by ${v.toFixed(2)} px`)
  if (kind === 'hold') check('life', () => 'it would freeze the movement round the region')
  if (m.clean === null) faults.push({ rank: 2, text: 'no donor pixel of the region can be seen' })
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
