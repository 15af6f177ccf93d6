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

/** Fewer cells than this are no sample. */
const MIN_CELLS = 4
/** Somebody who passes changes a cell by more than so many times the usual variance. */
const PASSING = 4
/** Below this share of the grain's variance nothing has changed. */
export const UNCHANGED = 1e-4

/** Factors by which the ring as a whole grew lighter, a over b: medians over its cells. */
export function lightOfRing(ring: CellSums): readonly [number, number, number] {
  const factors = [0, 1, 2].map((c) => {
    const all: number[] = []
    for (let k = 0; k < ring.cells; k++) {
      const [a, b] = [ring.sums[15 * k + 5 * c]!, ring.sums[15 * k + 5 * c + 1]!]
      if (ring.isTold(k) && a > 0 && b > 0) all.push(a / b)
    }
    return medianOf(all) ?? 1
  })
  return [factors[0]!, factors[1]!, factors[2]!]
}

/**
 * @param light as lightOfRing
 * @returns null where too few cells tell, or the plate's grain has no strength
 */
export function changeOf(
  sums: CellSums,
  { law, renewed, place }: SideLaw,
  light: readonly [number, number, number],
): SideChange | null {
  const found: { readonly noise: number[]; readonly mean: number; readonly flicker: number }[] = []
  for (let k = 0; k < sums.cells; k++) {
    if (!sums.isTold(k)) continue
    const n = sums.count[k]!
    const noise = [0, 0, 0]
    let flicker = 0
    for (let c = 0; c < 3; c++) {
      const at = 15 * k + 5 * c
      const [a, b] = [sums.sums[at]!, sums.sums[at + 1]!]
      const own = b > 0 && a > 0 ? a / b : 1
      const unit = grainAt(law, c, (a + b) / (2 * n)) ** 2 * renewed[c]! * (place?.[k] ?? 1)
      if (!(unit > 0)) return null
      noise[c] = squares(sums.sums, at, own) / (n - 1) / ((1 + own * own) * unit)
      const gain = light[c]!
      flicker += squares(sums.sums, at, gain) / n / ((1 + gain * gain) * unit) / 3
    }
    found.push({ noise, mean: (noise[0]! + noise[1]! + noise[2]!) / 3, flicker })
  }
  if (found.length < MIN_CELLS) return null
  const calm = within(found, ({ mean }) => mean)
  const steady = within(found, ({ flicker }) => flicker)
  const mean = (c: number) => calm.reduce((sum, { noise }) => sum + noise[c]!, 0) / calm.length
  const noise = [mean(0), mean(1), mean(2)] as const
  const spread = calm.reduce((sum, f) => sum + (f.noise[1]! - noise[1]) ** 2, 0) / calm.length
  return {
    noise,
    flicker: steady.reduce((sum, f) => sum + f.flicker, 0) / steady.length,
    error: noise[1] > 0 ? Math.sqrt(spread / calm.length) / noise[1] : 0,
    cells: calm.length,
  }
}

/** Sum of the squares of a - gain * b. */
function squares(sums: Readonly<Float64Array>, at: number, gain: number): number {
  return Math.max(0, sums[at + 2]! - 2 * gain * sums[at + 3]! + gain * gain * sums[at + 4]!)
}

/** Those that change as is usual: of those that a codec does not repeat, half change by less than the usual. */
function within<T>(all: readonly T[], value: (of: T) => number): T[] {
  const usual = medianOf(all.map(value).filter((v) => v > UNCHANGED)) ?? 0
  return all.filter((of) => value(of) <= Math.max(UNCHANGED, PASSING * usual))
}

function medianOf(values: readonly number[]): number | null {
  const sorted = Float64Array.from(values).sort()
  return sorted.length > 0 ? sorted[sorted.length >> 1]! : null
}
