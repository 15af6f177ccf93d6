// The few sums that a report needs; of nothing they are null, never 0.

export function median(values: readonly number[]): number | null {
  if (values.length === 0) return null
  const sorted = [...values].sort((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

export function worst(values: readonly number[]): number | null {
  return values.length === 0 ? null : Math.max(...values)
}

export function rms(values: readonly number[]): number | null {
  if (values.length === 0) return null
  return Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length)
}
