// A measure against its limits: where it holds up, where it needs work, where the value lies.
import { limitsOf, type MeasureKey } from '../../search/measures.js'
import type { Candidate } from '../../search/result.js'
import { barRange, figures, standing } from '../data/measures.js'

const WIDTH = 120
const HEIGHT = 12

export const STANDING_WORDS = {
  holds: 'within the limit',
  works: 'needs work',
  fails: 'beyond the limit',
  absent: 'no number',
} as const

export function Bar(props: { measure: MeasureKey; candidate: Candidate }) {
  const { measure, candidate } = props
  const value = candidate[measure]
  const { holds, works } = limitsOf(measure, candidate)
  const [low, high] = barRange(measure)
  const at = (v: number) => Math.min(WIDTH, Math.max(0, ((v - low) / (high - low)) * WIDTH))
  const stretch = (range: readonly [number, number]) => ({
    x: at(range[0]),
    width: Math.max(0, at(range[1]) - at(range[0])),
  })
  const alt = `${figures(measure, value)}, ${STANDING_WORDS[standing(measure, candidate, candidate.kind)]}`
  return (
    <svg class="bar" viewBox={`-4 0 ${WIDTH + 8} ${HEIGHT}`} role="img" aria-label={alt}>
      <rect class="bar-all" y="4" height="4" width={WIDTH} />
      <rect class="bar-works" y="4" height="4" {...stretch(works)} />
      <rect class="bar-holds" y="4" height="4" {...stretch(holds)} />
      {value === null ? null : <path class="bar-value-under" d={`M${at(value)} 0V${HEIGHT}`} />}
      {value === null ? null : <path class="bar-value" d={`M${at(value)} 0V${HEIGHT}`} />}
    </svg>
  )
}
