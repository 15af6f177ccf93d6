// The light of a pair per channel, from pixels of which most may show somebody's coat: one as bright as the wall passes for
// it, and has another colour. A camera keeps its colours from frame to frame, so of several groups of pixels that agree
// among themselves the one that changes colour least is the wall. The group is found by mean shift from there: K. Fukunaga,
// L. Hostetler, The Estimation of the Gradient of a Density Function (1975), with a flat window.
import { middleMean, select } from '../../match/selection.js'
import type { Light } from './steady-exposure.js'

/** Share of the pixels, those of the least change of colour, where the group is looked for; a smaller group is luck. */
const SEED_SHARE = 0.1
/** The window's radius in sigma of grain, and stops beyond that: white balance varies that much over a frame. */
const RADIUS_SIGMA = 3
const RADIUS_STOPS = 0.02
/** The window has come to rest. */
const REST_STOPS = 1e-4
const MAX_SHIFTS = 50
/** Of absolute differences of two normal samples the median is 0.954 sigma. */
const NEIGHBOURS_TO_SIGMA = 1 / 0.954

/**
 * @param ratios log2 of target over donor per channel, at neighbouring places side by side
 * @param n      how many places count, at least one
 * @param among  where given, written: 1 at the places of the group
 */
export function agreeingLight(
  ratios: readonly [Float32Array, Float32Array, Float32Array],
  n: number,
  among?: Uint8Array,
): Light {
  const [r, g, b] = ratios
  const warm = new Float32Array(n)
  const cold = new Float32Array(n)
  const change = new Float32Array(n)
  for (let i = 0; i < n; i++) {
    warm[i] = r[i] - g[i]
    cold[i] = b[i] - g[i]
    change[i] = Math.sqrt(warm[i] ** 2 + cold[i] ** 2)
  }
  const radius = RADIUS_STOPS + RADIUS_SIGMA * Math.hypot(grainOf(warm), grainOf(cold))
  const near = select(change.slice(), Math.min(n - 1, Math.ceil(SEED_SHARE * n)))
  const group = among ?? new Uint8Array(n)
  for (let i = 0; i < n; i++) group[i] = change[i] <= near ? 1 : 0
  let centre = meanOf(warm, cold, group) ?? [0, 0]
  for (let k = 0; k < MAX_SHIFTS; k++) {
    const [u, v] = centre
    markNear(warm, cold, u, v, radius, group)
    const mean = meanOf(warm, cold, group)
    if (mean === null) {
      // Coarsely coded colours may lie all round a place at which there is none: then the least change of all begins.
      const least = change.indexOf(change.reduce((a, b) => Math.min(a, b)))
      centre = [warm[least], cold[least]]
      continue
    }
    centre = mean
    if (Math.hypot(centre[0] - u, centre[1] - v) < REST_STOPS) break
  }
  const channel = (ratio: Readonly<Float32Array>): number => {
    // What was chosen by is no longer needed.
    const some = change.subarray(0, gathered(ratio, group, n, change))
    return middleMean(some, some.length)
  }
  return [channel(r), channel(g), channel(b)]
}

/** Marks with 1 what lies within a radius of a place. */
function markNear(
  warm: Readonly<Float32Array>,
  cold: Readonly<Float32Array>,
  u: number,
  v: number,
  radius: number,
  marks: Uint8Array,
): void {
  // Not Math.hypot: it takes three times as long, to guard against sizes that stops never have.
  for (let i = 0; i < warm.length; i++)
    marks[i] = (warm[i] - u) ** 2 + (cold[i] - v) ** 2 <= radius * radius ? 1 : 0
}

/** The values that are marked, in their order. @returns how many they are */
function gathered(
  values: Readonly<Float32Array>,
  marks: Readonly<Uint8Array>,
  n: number,
  out: Float32Array,
): number {
  let count = 0
  for (let i = 0; i < n; i++) if (marks[i] === 1) out[count++] = values[i]
  return count
}

/** Sigma of what differs from place to place. */
function grainOf(values: Readonly<Float32Array>): number {
  const steps = values.length - 1
  if (steps < 1) return 0
  const differences = new Float32Array(steps)
  for (let i = 0; i < steps; i++) differences[i] = Math.abs(values[i + 1] - values[i])
  return NEIGHBOURS_TO_SIGMA * select(differences, steps >> 1)
}

/** @returns null where none is marked */
function meanOf(
  warm: Readonly<Float32Array>,
  cold: Readonly<Float32Array>,
  marks: Readonly<Uint8Array>,
): [number, number] | null {
  let u = 0
  let v = 0
  let n = 0
  for (let i = 0; i < warm.length; i++) {
    if (marks[i] === 0) continue
    u += warm[i]
    v += cold[i]
    n++
  }
  return n > 0 ? [u / n, v / n] : null
}
