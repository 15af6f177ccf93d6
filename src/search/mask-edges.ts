// The edges of a mask, and steps of light along them: a step shows where enough neighbouring pixels of an edge step alike.
import type { Cut } from './result.js'

export type Side = Cut['side']
export const SIDES = ['left', 'right', 'upper', 'lower'] as const satisfies readonly Side[]

/** "left edge", "left, right and upper edges". */
export function edgesInWords(sides: readonly Side[]): string {
  const named = [sides.slice(0, -1).join(', '), ...sides.slice(-1)]
    .filter((part) => part !== '')
    .join(' and ')
  return `${named} edge${sides.length > 1 ? 's' : ''}`
}

/** Where what lies beyond a side is, from a pixel of the mask. */
export const BEYOND: Readonly<Record<Side, readonly [dx: number, dy: number]>> = {
  left: [-1, 0],
  right: [1, 0],
  upper: [0, -1],
  lower: [0, 1],
}

/** A step is told from the grain of so many neighbouring pixels of an edge. */
export const RUN_PX = 8

/** Per side, the pixels of a mask beyond which it ends, as indices, one line across the side after the other. */
export type Edges = Readonly<Record<Side, Int32Array>>

/**
 * @param isIn  whether the mask holds a pixel, by index into a picture of `width` by `height`; at the picture's own end it has no edge
 */
export function edgesOf(width: number, height: number, isIn: (i: number) => boolean): Edges {
  const found: Record<Side, number[]> = { left: [], right: [], upper: [], lower: [] }
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      if (!isIn(i)) continue
      if (x > 0 && !isIn(i - 1)) found.left.push(i)
      if (x < width - 1 && !isIn(i + 1)) found.right.push(i)
      if (y > 0 && !isIn(i - width)) found.upper.push(i)
      if (y < height - 1 && !isIn(i + width)) found.lower.push(i)
    }
  const byColumn = (a: number, b: number) => (a % width) - (b % width) || a - b
  return {
    left: Int32Array.from(found.left),
    right: Int32Array.from(found.right),
    upper: Int32Array.from(found.upper.sort(byColumn)),
    lower: Int32Array.from(found.lower.sort(byColumn)),
  }
}

/**
 * Means over neighbours on an edge: that of the pixels from k on at place k. Of what is not known, NaN, the rest tells, where
 * that is half of it or more.
 */
export function runMeans(values: ArrayLike<number>): Float64Array {
  const length = Math.min(RUN_PX, values.length)
  const out = new Float64Array(length === 0 ? 0 : values.length - length + 1)
  let sum = 0
  let known = 0
  for (let i = 0; i < values.length; i++) {
    const gone = i >= length ? values[i - length] : Number.NaN
    if (!Number.isNaN(gone)) {
      sum -= gone
      known--
    }
    if (!Number.isNaN(values[i])) {
      sum += values[i]
      known++
    }
    if (i >= length - 1) out[i - length + 1] = 2 * known >= length ? sum / known : Number.NaN
  }
  return out
}
