// A candidate's numbers without a fault, and numbers that are worse, as the table of measures has it.
import {
  MEASURE_KEYS,
  type MeasureKey,
  type Measures,
  measureOf,
  recordOf,
} from '../../src/search/measures.js'

export const FAULTLESS: Measures = recordOf(MEASURE_KEYS, (key) => {
  const { best, bounds } = measureOf(key)
  if (best === 'most') return bounds[1]
  return best === 'least' ? bounds[0] : best === 'one' ? 1 : 0
})

/** Away from the ideal, on the side that is worse. */
export function worse(key: MeasureKey, value: number, by: number): number {
  switch (measureOf(key).best) {
    case 'most':
      return value - by
    case 'least':
      return value + by
    case 'zero':
      return value + Math.sign(value || 1) * by
    case 'one':
      return value >= 1 ? value + by : value / (1 + by)
  }
}

/** Values on both sides of what is best and of each limit, some far off, in no order. */
export function various(key: MeasureKey): number[] {
  const { limits, bounds } = measureOf(key)
  const sides = [0, 1].flatMap((side) => {
    const [holds, works] = [limits.holds[side], limits.works[side]]
    if (!Number.isFinite(holds)) return []
    return [works + 0.4 * (works - holds), holds, (holds + works) / 2, works]
  })
  return [sides[sides.length - 1], FAULTLESS[key]!, ...sides].map((v) =>
    Math.min(bounds[1], Math.max(bounds[0], v)),
  )
}
