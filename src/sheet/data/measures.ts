// The numbers of a candidate as the sheet prints them, and where each stands against its limits.

import type { CandidateKind } from '../../search/kinds.js'
import {
  counts,
  FRAME_MEASURE_KEYS,
  LIMITS,
  limitsOf,
  MEASURE_KEYS,
  type Measure,
  type MeasureKey,
  type Measures,
  measureOf,
} from '../../search/measures.js'
import type { Candidate, FrameMatch } from '../../search/result.js'

export type Standing = 'holds' | 'works' | 'fails' | 'absent'

/**
 * @param m    of a candidate or a frame; what a limit hangs on is among it, too
 * @param kind a measure may count for some kinds alone: what moves round the region is frozen only by those that stand still
 */
export function standing(key: MeasureKey, m: Partial<Measures>, kind: CandidateKind): Standing {
  const value = m[key] ?? null
  if (value === null) return 'absent'
  if (!counts(key, kind)) return 'holds'
  const { holds, works } = limitsOf(key, m)
  if (value >= holds[0] && value <= holds[1]) return 'holds'
  return value >= works[0] && value <= works[1] ? 'works' : 'fails'
}

/** Every measure with its key, in the table's order. */
export function measures(): readonly (Measure & { readonly key: MeasureKey })[] {
  return MEASURE_KEYS.map((key) => ({ key, ...measureOf(key) }))
}

/** How far a value is from the best there could be, by which candidates are sorted; Infinity where it is absent. */
export function distanceFromBest(key: MeasureKey, value: number | null): number {
  if (value === null) return Infinity
  switch (measureOf(key).best) {
    case 'most':
      return -value
    case 'least':
      return value
    case 'zero':
      return Math.abs(value)
    case 'one':
      // A ratio: half of it is as far off as twice.
      return Math.abs(Math.log2(Math.max(value, Number.MIN_VALUE)))
  }
}

/** Which way a column of numbers goes when the best stand first; 'other' where the best lie in the middle. */
export function bestFirst(key: MeasureKey): 'ascending' | 'descending' | 'other' {
  const { best } = measureOf(key)
  return best === 'least' ? 'ascending' : best === 'most' ? 'descending' : 'other'
}

/** A measure in figures with its unit; a dash where there is none. A true minus sign, so that signs line up. */
export function figures(key: MeasureKey, value: number | null): string {
  if (value === null) return '–'
  const { digits, unit, signed } = measureOf(key)
  const text = plain(value, digits, signed)
  return unit ? `${text} ${unit}` : text
}

/** A score as everything prints it. */
export function scoreFigures(score: number): string {
  return plain(score, 1)
}

/** A number with a fixed count of decimals and a true minus sign; `signed` adds a plus. Never "−0.00". */
export function plain(value: number, digits: number, signed = false): string {
  const text = Math.abs(value).toFixed(digits)
  if (Number(text) === 0) return text
  return value < 0 ? `−${text}` : signed ? `+${text}` : text
}

/** The stretch of a measure that its bar draws: the limits with room beside them, inside what is possible. */
export function barRange(key: MeasureKey): [number, number] {
  const { holds, works } = LIMITS[key]
  const edges = [...holds, ...works].filter(Number.isFinite)
  const low = Math.min(...edges)
  const high = Math.max(...edges)
  const [least, most] = measureOf(key).bounds
  const room = Math.max(high - low, Math.abs(high) * 0.1, Number.EPSILON) * 0.6
  return [Math.max(least, Number.isFinite(works[0]) ? low - room : 0), Math.min(most, high + room)]
}

/** The index of the frame on which a candidate fits worst: where a measure comes nearest to failing, or goes furthest beyond. */
export function weakestFrame({ frames, interval }: Pick<Candidate, 'frames' | 'interval'>): number {
  const weak = frames.map((frame) => weakness({ ...frame, interval }))
  return weak.indexOf(Math.max(...weak))
}

/** The index of the frame that a row shows: a borrow's is the one its peak lands on, or where its lift is furthest from light; else the weakest. */
export function shownFrame(candidate: Pick<Candidate, 'frames' | 'interval' | 'moment'>): number {
  const { frames, moment } = candidate
  if (!moment) return weakestFrame(candidate)
  const wanted = moment.worst ?? moment.peak
  let nearest = 0
  for (let i = 1; i < frames.length; i++) {
    if (Math.abs(frames[i].donor - wanted) < Math.abs(frames[nearest].donor - wanted)) nearest = i
  }
  return nearest
}

/** 0 where the worst measure is just good, 1 where it fails. */
function weakness(frame: FrameMatch & Pick<Candidate, 'interval'>): number {
  let most = -Infinity
  for (const key of FRAME_MEASURE_KEYS) {
    const value = frame[key]
    if (value === null) continue
    const { holds, works } = limitsOf(key, frame)
    for (const side of [0, 1]) {
      const beyond = side === 0 ? holds[0] - value : value - holds[1]
      const room = Math.abs(works[side] - holds[side])
      if (Number.isFinite(beyond) && room > 0) most = Math.max(most, beyond / room)
    }
  }
  // Without a number nothing vouches for the frame, so it counts as the worst there is.
  return most === -Infinity ? Infinity : most
}
