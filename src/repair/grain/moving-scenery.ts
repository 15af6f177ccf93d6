// Scenery that moves a little in place, leaves or a cloth, is no grain: what two frames of it differ by goes with the slopes of
// the picture, as what a small shift makes of them does, and grain knows nothing of those.
import type { Tiles } from '../../kernels/tiles.js'
import { middleValue } from '../../match/selection.js'
import { subsample } from '../../match/subsample.js'
import { TILE_PX } from './model.js'

/**
 * Of what moving leaves differ by a shift explains up to 0.95, a share of the variance; of what codecs make of a surface that stands
 * still more than this in one tile of 80 (plaza, road; the middle one of several pairs).
 */
const MOVES_SHARE = 0.3

/** All over a picture so many pairs of either kind tell: each takes its time. */
const PAIRS_OF_PLACES = 5

const PIXELS = TILE_PX * TILE_PX

/** Samples of one channel that lie in a picture of whatever else. */
export interface Samples {
  readonly data: Readonly<Float32Array>
  /** From a pixel's sample to the next one's. */
  readonly step: number
  /** From the beginning of the data to the first pixel's sample. */
  readonly first: number
}

/** Two frames of one surface. */
export type SamplesOfPair = readonly [one: Samples, two: Samples]

/** Frames that follow each other, in which quick movement is small enough to be told, and such as lie far apart, in which a slow one is large enough. */
export interface NearAndFar {
  readonly near: readonly SamplesOfPair[]
  readonly far: readonly SamplesOfPair[]
}

/**
 * Per tile 1 where what lies in it moves.
 *
 * @param tiles where they lie in the pairs' pictures
 * @param where they lie in the plate; a tile counts as much as those that it overlaps, since of one that moves by half less is explained
 *   than moves
 * @param least so many are never said to: the stillest
 */
export function movingTiles(pairs: NearAndFar, tiles: Tiles, where: Tiles, least: number): Uint8Array {
  const own = usualShares(pairs, tiles)
  const places = Array.from(where.corners, (corner) => ({
    x: corner % where.width,
    y: Math.floor(corner / where.width),
  }))
  const shares = own.map((_, t) => {
    const { x, y } = places[t]!
    return own.reduce((most, share, o) => {
      const overlaps = Math.abs(places[o]!.x - x) < TILE_PX && Math.abs(places[o]!.y - y) < TILE_PX
      return overlaps ? Math.max(most, share) : most
    }, 0)
  })
  const most = Math.max(MOVES_SHARE, shares.slice().sort()[least - 1] ?? 1)
  return Uint8Array.from(shares, (share) => (share > most ? 1 : 0))
}

/** Per pixel 1 where what lies there moves, by whole tiles. */
export function movingPlaces({ near, far }: NearAndFar, width: number, height: number): Uint8Array {
  const out = new Uint8Array(width * height)
  if (width < TILE_PX || height < TILE_PX) return out
  const found: number[] = []
  for (let y = 0; y < height; y += TILE_PX)
    for (let x = 0; x < width; x += TILE_PX)
      found.push(Math.min(y, height - TILE_PX) * width + Math.min(x, width - TILE_PX))
  const some = { near: subsample(near, PAIRS_OF_PLACES), far: subsample(far, PAIRS_OF_PLACES) }
  const shares = usualShares(some, { corners: Int32Array.from(found), width })
  for (const [t, share] of shares.entries())
    for (let i = found[t]!, v = 0; share > MOVES_SHARE && v < TILE_PX; v++, i += width)
      out.fill(1, i, i + TILE_PX)
  return out
}

/** What a shift explains in each tile, of the usual pair that is near or far, whichever is more. */
function usualShares({ near, far }: NearAndFar, { corners, width }: Tiles): Float64Array {
  const fit = new ShiftFit()
  const usual = (pairs: readonly SamplesOfPair[], corner: number) =>
    middleValue(pairs.map((pair) => fit.share(pair, corner, width)))
  return Float64Array.from(corners, (corner) => Math.max(usual(far, corner), usual(near, corner)))
}

/**
 * What two frames of a tile differ by, and what of it a small shift explains: least squares over the slopes of their mean.
 *
 * B. D. Lucas, T. Kanade, An Iterative Image Registration Technique with an Application to Stereo Vision (IJCAI 1981): its one step.
 */
export class ShiftFit {
  readonly #one = new Float64Array(PIXELS)
  readonly #two = new Float64Array(PIXELS)
  readonly #off = new Float64Array(PIXELS)
  readonly #across = new Float64Array(PIXELS)
  readonly #down = new Float64Array(PIXELS)

  /**
   * @param corner the tile's first pixel
   * @param width  of the pictures, pixels
   * @returns the share of the difference's variance that a shift explains, 0 to 1
   */
  share(pair: SamplesOfPair, corner: number, width: number): number {
    this.#slopes(pair, corner, width)
    differences(this.#one, this.#two, this.#off)
    return takeOff(this.#across, this.#down, this.#off)
  }

  /**
   * The same of differences that are there already.
   *
   * @param off the tile's differences, row by row, their mean about 0; what a shift explains is taken off them
   */
  takeOff(pair: SamplesOfPair, corner: number, width: number, off: Float64Array): number {
    this.#slopes(pair, corner, width)
    return takeOff(this.#across, this.#down, off)
  }

  #slopes([one, two]: SamplesOfPair, corner: number, width: number): void {
    cut(one, corner, width, this.#one)
    cut(two, corner, width, this.#two)
    slopesOf(this.#one, this.#two, this.#across, this.#down)
  }
}

// Loops are functions of their own: a short one is compiled soon, and only once.

function cut({ data, step, first }: Samples, corner: number, width: number, out: Float64Array): void {
  for (let y = 0, k = 0; y < TILE_PX; y++)
    for (let x = 0, i = step * (corner + y * width) + first; x < TILE_PX; x++, i += step) out[k++] = data[i]!
}

/** Of two tiles, the second brought to the light of the first. */
function differences(one: Readonly<Float64Array>, two: Readonly<Float64Array>, out: Float64Array): void {
  let a = 0
  let b = 0
  for (let k = 0; k < PIXELS; k++) {
    a += one[k]!
    b += two[k]!
  }
  const gain = b > 0 ? a / b : 1
  for (let k = 0; k < PIXELS; k++) out[k] = one[k]! - gain * two[k]!
}

/**
 * Of the sum of two tiles: differences of each pixel's neighbours, their means taken out; at the tile's border of the pixel itself and its
 * one neighbour, twice.
 */
function slopesOf(
  one: Readonly<Float64Array>,
  two: Readonly<Float64Array>,
  across: Float64Array,
  down: Float64Array,
): void {
  const last = TILE_PX - 1
  let sumAcross = 0
  let sumDown = 0
  for (let y = 0, k = 0; y < TILE_PX; y++)
    for (let x = 0; x < TILE_PX; x++, k++) {
      const left = x > 0 ? k - 1 : k
      const right = x < last ? k + 1 : k
      const upper = y > 0 ? k - TILE_PX : k
      const lower = y < last ? k + TILE_PX : k
      const dx = (one[right]! + two[right]! - one[left]! - two[left]!) * (right - left === 2 ? 1 : 2)
      const dy = (one[lower]! + two[lower]! - one[upper]! - two[upper]!) * (y > 0 && y < last ? 1 : 2)
      across[k] = dx
      down[k] = dy
      sumAcross += dx
      sumDown += dy
    }
  for (let k = 0; k < PIXELS; k++) {
    across[k]! -= sumAcross / PIXELS
    down[k]! -= sumDown / PIXELS
  }
}

/** Takes off what goes with slopes. @returns the share of the squares that is taken off */
function takeOff(across: Readonly<Float64Array>, down: Readonly<Float64Array>, off: Float64Array): number {
  let xx = 0
  let xy = 0
  let yy = 0
  let xd = 0
  let yd = 0
  let dd = 0
  for (let k = 0; k < PIXELS; k++) {
    const x = across[k]!
    const y = down[k]!
    const d = off[k]!
    xx += x * x
    xy += x * y
    yy += y * y
    xd += x * d
    yd += y * d
    dd += d * d
  }
  // A little more on the diagonal, for tiles whose slopes all run one way.
  const least = 1e-6 * (xx + yy)
  const det = (xx + least) * (yy + least) - xy * xy
  if (!(det > 0) || !(dd > 0)) return 0
  const dx = ((yy + least) * xd - xy * yd) / det
  const dy = ((xx + least) * yd - xy * xd) / det
  let left = 0
  for (let k = 0; k < PIXELS; k++) {
    const d = off[k]! - dx * across[k]! - dy * down[k]!
    off[k] = d
    left += d * d
  }
  return Math.max(0, 1 - left / dd)
}
