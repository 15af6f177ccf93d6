// What two frames of one surface differ by, tile by tile, and what that comes to: strength, colour and spectrum of grain.
import { addTilePower, type Counted, type Tiles, tileDifferences, tileProducts } from '../../kernels/tiles.js'
import type { Workspace } from '../../kernels/workspace.js'
import { MAD_TO_SIGMA, middleValue } from '../../match/selection.js'
import { eigenOf } from './eigen.js'
import type { Pair } from './laid-frames.js'
import { type GrainModel, type Spectrum, TILE_PX } from './model.js'
import { ShiftFit } from './moving-scenery.js'
import { WINDOW } from './spectrum.js'

const PIXELS = TILE_PX * TILE_PX
/** Somebody who passes differs by more than this many times the usual variance. */
const PASSING = 4
/** So many tiles of nearly the same light tell what is usual at that light; fewer in all tell nothing of it. */
const ALIKE = 17
/** One beyond so many standard deviations of them, and by so much more (a natural logarithm), shows somebody. */
const OUTLIER_SIGMA = 4
const MIN_SPREAD = 0.3
/** Below any energy, also that of a tile that is repeated. */
const NEVER = -1
/** What no half-float file and no screen keeps of light is no grain. */
export const MIN_SHARE = 1e-5

/** How grain goes with light. */
export type Law = Pick<GrainModel, 'level' | 'power'>

/** Differences of pairs over tiles, brought to the same light, each tile's mean taken out; of independent grain the variance is one frame's. */
export class Differences {
  /** Variance of a tile in luminance-like sum of channels, median over all. */
  readonly usual: number
  readonly #energy: Float64Array
  /** Per tile: more than this is somebody who passes. */
  readonly #limit: Float64Array
  /** Per pair and tile: mean light and variance of R, G and B. */
  readonly light: Float64Array
  readonly variance: Float64Array
  /** Per pair. */
  readonly #made: readonly Float64Array[]

  /**
   * @param mixed tiles are of many surfaces, where somebody may stand in some of them most of the time: one with far more than
   *   others of its light have is left out. On one surface alone it is the surface's own.
   * @param moves  per tile 1 where what is seen in it moves, which is left out, and of all others what a small shift explains is taken
   *   off; absent: movement counts as well
   */
  constructor(
    readonly workspace: Workspace,
    readonly pairs: readonly Pair[],
    readonly tiles: Tiles,
    { mixed = false, moves }: { readonly mixed?: boolean; readonly moves?: Readonly<Uint8Array> } = {},
  ) {
    const { length } = tiles.corners
    const n = pairs.length * length
    this.#energy = new Float64Array(n)
    this.light = new Float64Array(3 * n)
    this.variance = new Float64Array(3 * n)
    const fit = new ShiftFit()
    this.#made = pairs.map(([a, b], p) => {
      const made = new Float64Array(3 * PIXELS * length)
      const [light, variance] = [this.#ofPair(this.light, p), this.#ofPair(this.variance, p)]
      tileDifferences(workspace, a.picture.data, b.picture.data, tiles, made, light, variance)
      if (moves !== undefined) takeShiftsOff(fit, [a.picture.data, b.picture.data], tiles, made, variance)
      return made
    })
    for (let k = 0; k < n; k++)
      for (let c = 3 * k; c < 3 * k + 3; c++)
        this.#energy[k]! += this.variance[c]! / Math.max(1e-9, this.light[c]!)
    // Where a codec repeats most tiles as they are, those that it does not repeat tell.
    const changed = this.#energy.filter((v, k) => v > MIN_SHARE ** 2 && moves?.[k % length] !== 1).sort()
    this.usual = changed.length > 0 ? changed[changed.length >> 1]! : 0
    const own = Float64Array.from({ length }, (_, t) => {
      const all = pairs.map((_, p) => this.#energy[p * length + t]!).filter((v) => v > MIN_SHARE ** 2)
      return middleValue(all)
    })
    this.#limit = own.map((v) => PASSING * Math.min(v, PASSING * this.usual))
    for (let t = 0; t < length; t++) if (moves?.[t] === 1) this.#limit[t] = NEVER
    if (mixed) for (const t of this.#occupied(own)) this.#limit[t] = NEVER
  }

  /** Tiles in which somebody is more often than not. @param own what is usual in each */
  #occupied(own: Readonly<Float64Array>): number[] {
    const out: number[] = []
    const lights: { readonly t: number; readonly light: number }[] = []
    for (const [t, v] of own.entries()) {
      if (v > PASSING ** 2 * this.usual) out.push(t)
      else if (v > 0) lights.push({ t, light: middleValue(this.pairs.map((_, p) => this.#lightOf(p, t))) })
    }
    if (lights.length < ALIKE) return out
    lights.sort((a, b) => a.light - b.light)
    // How much more each has than is usual at its light, natural logarithm.
    const more = lights.map(({ t }, k) => {
      const first = Math.min(Math.max(0, k - (ALIKE >> 1)), lights.length - ALIKE)
      return Math.log(own[t]! / middleValue(lights.slice(first, first + ALIKE).map((one) => own[one.t]!)))
    })
    // A codec leaves one surface more than another; on a sensor all tiles of a light have nearly the same.
    const spread = MAD_TO_SIGMA * middleValue(more.map(Math.abs))
    const most = Math.max(MIN_SPREAD, OUTLIER_SIGMA * spread)
    for (const [k, { t }] of lights.entries()) if (more[k]! > most) out.push(t)
    return out
  }

  /** A tile's green, in the mean of a pair. */
  #lightOf(pair: number, tile: number): number {
    return this.light[3 * (pair * this.tiles.corners.length + tile) + 1]!
  }

  /** Does nobody pass in a pair's tile? Told by what is usual in that tile. */
  isCalm(k: number): boolean {
    return this.#energy[k]! <= this.#limit[k % this.#limit.length]!
  }

  /** @param mix of components that are known already; absent: those of these differences */
  spectraUnder(law: Law, mix?: Readonly<Float64Array>): { mix: Float64Array; spectra: Spectrum[] } {
    const counted = this.#made.map((_, p) => this.#calm(p, law))
    const found = mix?.slice() ?? this.#components(counted)
    const back = inverseOf(found)
    const sums = new Float64Array(3 * PIXELS)
    const power = new Float64Array(3 * PIXELS)
    let count = 0
    for (let p = 0; p < counted.length; p++) {
      count += tilesIn(counted[p]!)
      power.fill(0)
      addTilePower(this.workspace, counted[p]!, back, WINDOW, power)
      addOver(sums, power, leftOf(this.pairs[p]!))
    }
    shareOut(sums, count)
    return { mix: found, spectra: [0, 1, 2].map((j) => sums.slice(j * PIXELS, (j + 1) * PIXELS)) }
  }

  /** Uncorrelated components: columns are eigenvectors of the channels' correlation. */
  #components(counted: readonly Counted[]): Float64Array {
    const matrix = new Float64Array(9)
    for (const one of counted) tileProducts(this.workspace, one, matrix)
    return eigenOf(matrix)
  }

  /** A pair's calm tiles, each channel over what grain has at its light. */
  #calm(pair: number, { level, power }: Law): Counted {
    const { length } = this.tiles.corners
    const counts = new Uint8Array(length)
    const scale = new Float64Array(3 * length)
    const light = this.#ofPair(this.light, pair)
    for (let t = 0; t < length; t++) {
      counts[t] = this.isCalm(pair * length + t) ? 1 : 0
      for (let c = 0; c < 3; c++) {
        const sigma = level[c]! * light[3 * t + c]! ** power[c]!
        scale[3 * t + c] = sigma > 0 ? 1 / sigma : 0
      }
    }
    return { samples: this.#made[pair]!, counts, scale }
  }

  #ofPair(perTile: Float64Array, pair: number): Float64Array {
    const { length } = this.tiles.corners
    return perTile.subarray(3 * length * pair, 3 * length * (pair + 1))
  }
}

/** What moving them has left of a pair's noise at each frequency; null: all. */
function leftOf([{ response: a }, { response: b }]: Pair): Spectrum | null {
  if (a === null && b === null) return null
  // What resampling has all but taken away tells nothing.
  return Float64Array.from({ length: PIXELS }, (_, i) => Math.max(0.1, ((a?.[i] ?? 1) + (b?.[i] ?? 1)) / 2))
}

// Loops are functions of their own: a short one is compiled soon, and only once.

/** @param made @param variance of a pair's tiles, as `tileDifferences` has them */
function takeShiftsOff(
  fit: ShiftFit,
  [one, two]: readonly [Readonly<Float32Array>, Readonly<Float32Array>],
  { corners, width }: Tiles,
  made: Float64Array,
  variance: Float64Array,
): void {
  for (let k = 0; k < variance.length; k++) {
    const first = k % 3
    const pair = [
      { data: one, step: 3, first },
      { data: two, step: 3, first },
    ] as const
    const off = made.subarray(k * PIXELS, (k + 1) * PIXELS)
    variance[k]! *= 1 - fit.takeOff(pair, corners[(k - first) / 3]!, width, off)
  }
}

function tilesIn({ counts }: Counted): number {
  let count = 0
  for (let t = 0; t < counts.length; t++) count += counts[t]!
  return count
}

/** Sums become means; of nothing they are 0. */
function shareOut(sums: Float64Array, count: number): void {
  for (let i = 0; i < sums.length; i++) sums[i] = count > 0 ? sums[i]! / count : 0
}

/** Adds up three spectra that lie one after the other, each over what is left at its frequencies. */
function addOver(sums: Float64Array, power: Readonly<Float64Array>, left: Readonly<Spectrum> | null): void {
  if (left === null) for (let i = 0; i < sums.length; i++) sums[i]! += power[i]!
  else for (let i = 0; i < sums.length; i++) sums[i]! += power[i]! / left[i % PIXELS]!
}

/** Of an orthonormal matrix the inverse is its transpose. */
function inverseOf(matrix: Readonly<Float64Array>): Float64Array {
  return Float64Array.from({ length: 9 }, (_, i) => matrix[3 * (i % 3) + Math.floor(i / 3)]!)
}
