// Numbers of a candidate's frames summed up, those that are unknown left out, and rounded as its result holds them.
import type { Offset } from '../raster/transform.js'

function present(values: readonly (number | null)[]): number[] {
  return values.filter((v): v is number => v !== null)
}

/** Of numbers that are all known; NaN of none. */
export function meanOf(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0) / values.length
}

/** Of those that are known. */
export function mean(values: readonly (number | null)[]): number | null {
  const v = present(values)
  return v.length > 0 ? round(meanOf(v), 4) : null
}

export function weightedMean(
  values: readonly (readonly [value: number | null, weight: number])[],
): number | null {
  let sum = 0
  let all = 0
  for (const [value, weight] of values) {
    if (value === null) continue
    sum += value * weight
    all += weight
  }
  return all > 0 ? sum / all : null
}

export function rms(values: readonly (number | null)[]): number | null {
  const v = present(values)
  return v.length > 0 ? round(Math.sqrt(v.reduce((a, b) => a + b * b, 0) / v.length), 3) : null
}

export function least(values: readonly (number | null)[]): number | null {
  const v = present(values)
  return v.length > 0 ? Math.min(...v) : null
}

export function round<T extends number | null>(value: T, digits: number): T {
  return (value === null ? null : Number((value as number).toFixed(digits))) as T
}

/** As the result holds it. */
export function roundedOffset({ dx, dy }: Offset): Offset {
  return { dx: round(dx, 4), dy: round(dy, 4) }
}
