// What two frames of one surface differ by, tile by tile, and what that comes to: strength, colour and spectrum of grain.
import { eigenOf } from './eigen.js'
import type { Pair } from './laid-frames.js'
import { type GrainModel, type Spectrum, TILE_PX } from './model.js'
import type { Tiles } from './quiet-tiles.js'
import { TileTransform } from './spectrum.js'

const PIXELS = TILE_PX * TILE_PX
/** Somebody who passes differs by more than this many times the usual variance. */
const PASSING = 4
/** So many samples of differences are kept instead of made again: 32 MiB. */
const MAX_KEPT = 2 ** 22
/** What no half-float file and no screen keeps of light is no grain. */
export const LEAST_SHARE = 1e-5

/** How grain goes with light. */
export type Law = Pick<GrainModel, 'level' | 'power'>

/** Differences of pairs over tiles, brought to the same light, each tile's mean taken out; of independent grain the variance is one frame's. */
export class Differences {
  /** Variance of a tile in luminance-like sum of channels, median over all. */
  readonly usual: number
  readonly #energy: Float64Array
  readonly #limit: Float64Array
  /** Per pair and tile: mean light and variance of R, G and B. */
  readonly light: Float64Array
  readonly variance: Float64Array
  /** All of them, tile by tile, as `#each` makes them; null where they would take too much room. */
  #made: Float64Array | null = null

  constructor(
    readonly pairs: readonly Pair[],
    readonly tiles: Tiles,
  ) {
    const n = pairs.length * tiles.corners.length
    this.#energy = new Float64Array(n)
    this.light = new Float64Array(3 * n)
    this.variance = new Float64Array(3 * n)
    const tile = new Float64Array(3 * PIXELS)
    const made = 3 * PIXELS * n <= MAX_KEPT ? new Float64Array(3 * PIXELS * n) : null
    this.#each((k) => {
      made?.set(tile, 3 * PIXELS * k)
      let energy = 0
      for (let c = 0; c < 3; c++) {
        let squares = 0
        for (let i = 0; i < PIXELS; i++) squares += tile[c * PIXELS + i]! ** 2
        this.variance[3 * k + c] = squares / PIXELS
        energy += squares / PIXELS / Math.max(1e-9, this.light[3 * k + c]!)
      }
      this.#energy[k] = energy
    }, tile)
    this.#made = made
    // Where a codec repeats most tiles as they are, those that it does not repeat tell.
    const changed = this.#energy.filter((v) => v > LEAST_SHARE ** 2).sort()
    this.usual = changed.length > 0 ? changed[changed.length >> 1]! : 0
    const { length } = tiles.corners
    this.#limit = new Float64Array(length)
    for (let t = 0; t < length; t++) {
      const own = pairs.map((_, p) => this.#energy[p * length + t]!).filter((v) => v > LEAST_SHARE ** 2)
      own.sort((a, b) => a - b)
      this.#limit[t] = PASSING * Math.min(own[own.length >> 1] ?? 0, PASSING * this.usual)
    }
  }

  /** Does nobody pass in a pair's tile? Told by what is usual in that tile. */
  isCalm(k: number): boolean {
    return this.#energy[k]! <= this.#limit[k % this.#limit.length]!
  }

  /** @param mix of components that are known already; absent: those of these differences */
  spectraUnder(law: Law, mix?: Readonly<Float64Array>): { mix: Float64Array; spectra: Spectrum[] } {
    const tile = new Float64Array(3 * PIXELS)
    const found = mix?.slice() ?? this.#components(law)
    const back = inverseOf(found)
    const spectra = [0, 1, 2].map(() => new Float64Array(PIXELS))
    const component = new Float64Array(PIXELS)
    const transform = new TileTransform()
    const weights = new Float64Array(this.pairs.length)
    const perPair = this.pairs.map(() => [0, 1, 2].map(() => new Float64Array(PIXELS)))
    this.#each((k, pair) => {
      if (!this.isCalm(k)) return
      this.#normalise(tile, k, law)
      weights[pair]!++
      for (let j = 0; j < 3; j++) {
        for (let i = 0; i < PIXELS; i++)
          component[i] =
            back[3 * j]! * tile[i]! +
            back[3 * j + 1]! * tile[PIXELS + i]! +
            back[3 * j + 2]! * tile[2 * PIXELS + i]!
        transform.addPower(component, 1, perPair[pair]![j]!)
      }
    }, tile)
    let count = 0
    for (const [p, [a, b]] of this.pairs.entries()) {
      count += weights[p]!
      for (let j = 0; j < 3; j++)
        for (let i = 0; i < PIXELS; i++) {
          const left = ((a.response?.[i] ?? 1) + (b.response?.[i] ?? 1)) / 2
          // What resampling has all but taken away tells nothing.
          spectra[j]![i]! += perPair[p]![j]![i]! / Math.max(0.1, left)
        }
    }
    for (const s of spectra) for (let i = 0; i < PIXELS; i++) s[i] = count > 0 ? s[i]! / count : 0
    return { mix: found, spectra }
  }

  /** Uncorrelated components: columns are eigenvectors of the channels' correlation. */
  #components(law: Law): Float64Array {
    const tile = new Float64Array(3 * PIXELS)
    const matrix = new Float64Array(9)
    this.#each((k) => {
      if (!this.isCalm(k)) return
      this.#normalise(tile, k, law)
      for (let a = 0; a < 3; a++)
        for (let b = 0; b < 3; b++) {
          let sum = 0
          for (let i = 0; i < PIXELS; i++) sum += tile[a * PIXELS + i]! * tile[b * PIXELS + i]!
          matrix[3 * a + b]! += sum
        }
    }, tile)
    return eigenOf(matrix)
  }

  #normalise(tile: Float64Array, k: number, { level, power }: Law): void {
    for (let c = 0; c < 3; c++) {
      const sigma = level[c]! * this.light[3 * k + c]! ** power[c]!
      const scale = sigma > 0 ? 1 / sigma : 0
      for (let i = 0; i < PIXELS; i++) tile[c * PIXELS + i]! *= scale
    }
  }

  /** @param tile receives R, G and B of each difference, each tile's mean taken out, over the root of 2 */
  #each(use: (k: number, pair: number) => void, tile: Float64Array): void {
    const { corners, width } = this.tiles
    if (this.#made !== null) {
      for (let k = 0; k < this.#energy.length; k++) {
        tile.set(this.#made.subarray(3 * PIXELS * k, 3 * PIXELS * (k + 1)))
        use(k, Math.floor(k / corners.length))
      }
      return
    }
    for (const [p, [a, b]] of this.pairs.entries()) {
      const [one, two] = [a.picture.data, b.picture.data]
      for (let t = 0; t < corners.length; t++) {
        const k = p * corners.length + t
        for (let c = 0; c < 3; c++) {
          let [sumOne, sumTwo] = [0, 0]
          for (let y = 0, i = 0; y < TILE_PX; y++)
            for (let x = 0; x < TILE_PX; x++, i++) {
              const at = 3 * (corners[t]! + y * width + x) + c
              sumOne += one[at]!
              sumTwo += two[at]!
              tile[c * PIXELS + i] = two[at]!
            }
          this.light[3 * k + c] = Math.max(0, (sumOne + sumTwo) / (2 * PIXELS))
          const gain = sumTwo > 0 ? sumOne / sumTwo : 1
          for (let y = 0, i = 0; y < TILE_PX; y++)
            for (let x = 0; x < TILE_PX; x++, i++) {
              const at = 3 * (corners[t]! + y * width + x) + c
              tile[c * PIXELS + i] = (one[at]! - gain * tile[c * PIXELS + i]!) * Math.SQRT1_2
            }
        }
        use(k, p)
      }
    }
  }
}

/** Of an orthonormal matrix the inverse is its transpose. */
function inverseOf(matrix: Readonly<Float64Array>): Float64Array {
  return Float64Array.from({ length: 9 }, (_, i) => matrix[3 * (i % 3) + Math.floor(i / 3)]!)
}
