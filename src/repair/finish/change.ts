// How much of what changes from frame to frame there is inside a patch and in the ring of the plate round it, each in units of
// what the plate's grain has at that light: the ratio of both is 1 where the patch is as the plate is.
import { type GrainModel, grainAt, varianceOf } from '../grain/model.js'
import type { CellSums } from './pair.js'

/** The plate's grain on the surface of one side. */
export interface SideLaw {
  readonly law: Pick<GrainModel, 'level' | 'power'>
  /** R, G, B: share of its variance that is another one in the next frame. */
  readonly renewed: readonly [number, number, number]
  /** Per cell how much more of it there is than the light tells, a variance; null: the same all over. */
  readonly place: Readonly<Float32Array> | null
}

export function sideLaw(model: GrainModel, place: SideLaw['place'] = null): SideLaw {
  const renewed = (c: number) =>
    model.fresh.reduce((sum, s, k) => sum + model.mix[3 * c + k]! ** 2 * varianceOf(s), 0)
  return { law: model, renewed: [renewed(0), renewed(1), renewed(2)], place }
}

/** Of one side of a pair. */
export interface SideChange {
  /** R, G, B: variance of what changes within cells, over the grain's; light that changes in a whole cell is taken out. */
  readonly noise: readonly [number, number, number]
  /** The same of all that changes beside the light of the ring as a whole. */
  readonly flicker: number
  /** Standard error of green's noise, relative. */
  readonly error: number
  readonly cells: number
}

/** Some of the cells. */
export interface Among {
  readonly marks: Readonly<Uint8Array>
  readonly mark: number
}

/** Fewer cells than this are no sample. */
const MIN_CELLS = 4
/** Somebody who passes changes a cell by more than so many times the usual variance. */
const PASSING = 4
/** Below this share of the grain's variance nothing has changed. */
export const UNCHANGED = 1e-4

/** Factors by which the ring as a whole grew lighter, a over b: medians over its cells. */
export function lightOfRing(ring: CellSums): readonly [number, number, number] {
  const factor = (c: number): number => {
    const all = new Float64Array(ring.cells)
    let n = 0
    for (let k = 0, at = 5 * c; k < ring.cells; k++, at += 15) {
      const [a, b] = [ring.sums[at]!, ring.sums[at + 1]!]
      if (ring.isTold(k) && a > 0 && b > 0) all[n++] = a / b
    }
    return medianOf(all.subarray(0, n)) ?? 1
  }
  return [factor(0), factor(1), factor(2)]
}

/**
 * @param light as lightOfRing
 * @param among of the cells those that are marked with a number; default: all
 * @returns null where too few cells tell, or the plate's grain has no strength
 */
export function changeOf(
  cells: CellSums,
  side: SideLaw,
  light: readonly [number, number, number],
  among?: Among,
): SideChange | null {
  /** Per cell that tells: R, G and B, their mean, and all that flickers. */
  const noise = new Float64Array(3 * cells.cells)
  const mean = new Float64Array(cells.cells)
  const flicker = new Float64Array(cells.cells)
  const n = overGrain(cells, side, light, noise, mean, flicker, among)
  if (n < MIN_CELLS) return null
  const calm = usualMost(mean, n)
  let found = 0
  for (let k = 0; k < n; k++) if (mean[k]! <= calm) found++
  const own = (c: number) => calmSum(noise, c, mean, calm, n) / found
  const green = own(1)
  let spread = 0
  for (let k = 0; k < n; k++) {
    const off = noise[3 * k + 1]! - green
    if (mean[k]! <= calm) spread += off * off
  }
  const steady = usualMost(flicker, n)
  let flickers = 0
  let still = 0
  for (let k = 0; k < n; k++) {
    if (!(flicker[k]! <= steady)) continue
    flickers += flicker[k]!
    still++
  }
  return {
    noise: [own(0), green, own(2)],
    flicker: flickers / still,
    error: green > 0 ? Math.sqrt(spread / found / found) / green : 0,
    cells: found,
  }
}

// Loops over cells are functions of their own: a short one is compiled soon, and only once.

/**
 * What changes over what the grain has, cell by cell.
 *
 * @param noise receives R, G and B, `mean` their mean, `flicker` all that flickers
 * @returns how many cells tell; 0 where the plate's grain has no strength
 */
function overGrain(
  cells: CellSums,
  { law, renewed, place }: SideLaw,
  light: readonly [number, number, number],
  noise: Float64Array,
  mean: Float64Array,
  flicker: Float64Array,
  among?: Among,
): number {
  const { count, sums } = cells
  let n = 0
  for (let k = 0; k < count.length; k++) {
    const more = place === null ? 1 : place[k]!
    // Where a codec repeats what it had nothing changes, and that tells nothing.
    if (!cells.isTold(k) || more === 0 || (among && among.marks[k] !== among.mark)) continue
    const samples = count[k]!
    let flickers = 0
    for (let c = 0; c < 3; c++) {
      const at = 15 * k + 5 * c
      const a = sums[at]!
      const b = sums[at + 1]!
      const own = b > 0 && a > 0 ? a / b : 1
      const grain = grainAt(law, c, (a + b) / (2 * samples))
      const unit = grain * grain * renewed[c]! * more
      if (!(unit > 0)) return 0
      noise[3 * n + c] = squares(sums, at, own) / (samples - 1) / ((1 + own * own) * unit)
      const gain = light[c]!
      flickers += squares(sums, at, gain) / samples / ((1 + gain * gain) * unit) / 3
    }
    flicker[n] = flickers
    mean[n] = (noise[3 * n]! + noise[3 * n + 1]! + noise[3 * n + 2]!) / 3
    n++
  }
  return n
}

/** Of one channel, over the cells whose mean is not beyond `calm`. */
function calmSum(
  noise: Readonly<Float64Array>,
  channel: number,
  mean: Readonly<Float64Array>,
  calm: number,
  n: number,
): number {
  let sum = 0
  for (let k = 0; k < n; k++) if (mean[k]! <= calm) sum += noise[3 * k + channel]!
  return sum
}

/** Sum of the squares of a - gain * b. */
function squares(sums: Readonly<Float64Array>, at: number, gain: number): number {
  return Math.max(0, sums[at + 2]! - 2 * gain * sums[at + 3]! + gain * gain * sums[at + 4]!)
}

/** What those that change as is usual do not go beyond: of those that a codec does not repeat, half change by less than the usual. */
function usualMost(values: Float64Array, n: number): number {
  const usual = medianOf(values.subarray(0, n).filter((v) => v > UNCHANGED)) ?? 0
  return Math.max(UNCHANGED, PASSING * usual)
}

/** The upper one. @param values sorted by it */
function medianOf(values: Float64Array): number | null {
  values.sort()
  return values.length > 0 ? values[values.length >> 1]! : null
}
