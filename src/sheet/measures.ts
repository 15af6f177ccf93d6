// The numbers of a candidate as the sheet prints them, and where each stands against its limits.
import type { Candidate } from '../search/result.js'

export const MEASURE_KEYS = [
  'ncc',
  'stops',
  'seam',
  'clean',
  'grain',
  'sharpness',
  'steadiness',
  'life',
] as const
export type MeasureKey = (typeof MEASURE_KEYS)[number]

/** The range in which a number lets a candidate hold up, and the wider one in which it still can be worked on. */
export interface Limit {
  /** lowest and highest value that hold up; infinite where that side is open */
  readonly holds: readonly [number, number]
  /** lowest and highest value that need work but no more; beyond it the candidate will not hold */
  readonly works: readonly [number, number]
}

export type Limits = Readonly<Record<MeasureKey, Limit>>

export type Standing = 'holds' | 'works' | 'fails' | 'absent'

export function standing(value: number | null, limit: Limit): Standing {
  if (value === null) return 'absent'
  if (value >= limit.holds[0] && value <= limit.holds[1]) return 'holds'
  return value >= limit.works[0] && value <= limit.works[1] ? 'works' : 'fails'
}

interface Measure {
  readonly key: MeasureKey
  readonly label: string
  readonly unit: string
  readonly digits: number
  readonly signed?: boolean
  /** what it says, for someone who meets it for the first time */
  readonly meaning: string
  /** the ends beyond which the number can't lie */
  readonly bounds: readonly [number, number]
}

const MEASURES: Readonly<Record<MeasureKey, Omit<Measure, 'key'>>> = {
  ncc: {
    label: 'ncc',
    unit: '',
    digits: 4,
    meaning: 'likeness of donor and target round the mask; 1 is the same picture',
    bounds: [-1, 1],
  },
  stops: {
    label: 'stops',
    unit: '',
    digits: 2,
    signed: true,
    meaning: 'light the donor needs to reach the target',
    bounds: [-Infinity, Infinity],
  },
  seam: {
    label: 'seam',
    unit: '',
    digits: 2,
    meaning: 'step at the mask once the light is matched; 1 is what grain alone gives',
    bounds: [0, Infinity],
  },
  clean: {
    label: 'clean',
    unit: '',
    digits: 3,
    meaning: 'share of the lent pixels with nothing standing in them',
    bounds: [0, 1],
  },
  grain: {
    label: 'grain',
    unit: '',
    digits: 2,
    meaning: "the donor's noise over the target's",
    bounds: [0, Infinity],
  },
  sharpness: {
    label: 'sharpness',
    unit: '',
    digits: 2,
    meaning: "the donor's detail over the target's",
    bounds: [0, Infinity],
  },
  steadiness: {
    label: 'steadiness',
    unit: 'px',
    digits: 3,
    meaning: 'jitter of the 2D offset from frame to frame',
    bounds: [0, Infinity],
  },
  life: {
    label: 'life',
    unit: '',
    digits: 2,
    meaning: 'how much the surround moves by itself, beyond grain',
    bounds: [0, Infinity],
  },
}

export function measures(): readonly Measure[] {
  return MEASURE_KEYS.map((key) => ({ key, ...MEASURES[key] }))
}

/** A measure in figures with its unit; a dash where there is none. A true minus sign, so that signs line up. */
export function figures(key: MeasureKey, value: number | null): string {
  if (value === null) return '–'
  const { digits, unit, signed } = MEASURES[key]
  const text = plain(value, digits, signed)
  return unit ? `${text} ${unit}` : text
}

/** A number with a fixed count of decimals and a true minus sign; `signed` adds a plus. Never "−0.00". */
export function plain(value: number, digits: number, signed = false): string {
  const text = Math.abs(value).toFixed(digits)
  if (Number(text) === 0) return text
  return value < 0 ? `−${text}` : signed ? `+${text}` : text
}

/** The stretch of a measure that its bar draws: the limits with room beside them, inside what is possible. */
export function barRange(key: MeasureKey, limit: Limit): [number, number] {
  const edges = [...limit.holds, ...limit.works].filter(Number.isFinite)
  const low = Math.min(...edges)
  const high = Math.max(...edges)
  const [least, most] = MEASURES[key].bounds
  const room = Math.max(high - low, Math.abs(high) * 0.1, Number.EPSILON) * 0.6
  return [
    Number.isFinite(limit.works[0]) ? Math.max(least, low - room) : Math.max(least, Math.min(low - room, 0)),
    Number.isFinite(limit.works[1]) ? Math.min(most, high + room) : Math.min(most, high + room),
  ]
}

/** The target frame on which a candidate fits worst: the largest seam, or the lowest ncc where no frame has a seam. */
export function weakestFrame({ frames }: Candidate): number {
  let worst = 0
  for (let i = 1; i < frames.length; i++) {
    if (badness(frames[i]) > badness(frames[worst])) worst = i
  }
  return worst
}

function badness({ seam, ncc }: Candidate['frames'][number]): number {
  // Without a number nothing vouches for the frame, so it counts as the worst there is.
  return seam ?? (ncc === null ? Infinity : 2 - ncc)
}
