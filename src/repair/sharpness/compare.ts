// By which Gaussian a donor is sharper than its target: told by the spectra of both over the surround, grain's own taken out. A
// Gaussian of variance q multiplies power at frequency f by exp(-4 pi^2 q f^2), so that the logarithm of what the target has over
// what the donor has is a straight line over f^2; where one direction is blurred more than the other, q is a matrix.

import { solveSymmetric } from '../../match/solve.js'
import type { Frame } from '../../raster/frame.js'
import { GREEN, greenPower } from '../grain/detail-spectrum.js'
import { type GrainModel, grainAt, type Spectrum, TILE_PX } from '../grain/model.js'
import { TileTransform } from '../grain/spectrum.js'
import { TileBlur } from './gaussian.js'

const FREQUENCIES = TILE_PX * TILE_PX
/** Cycles per pixel: below, a tile's window has the say; above, grain. */
const LOWEST = 1.5 / TILE_PX
const HIGHEST = 0.4
/** Of a frequency that tells, detail has so much of grain's power in both, and so much of what the picture has most. */
const OVER_GRAIN = 2
const OVER_MOST = 1e-4
/** Tiles show the same where they are so alike, 0 to 1, with grain averaged out. */
const ALIKE = 0.6
/** Fewer of them tell nothing, nor does less than this share of all: a road's few lines made one direction of nothing else. */
const MIN_TILES = 6
const MIN_SHARE = 1 / 3
const MAX_TILES = 64

/** Variance of the Gaussian that brings a donor to its target, square pixels, as a symmetric matrix; below 0 the donor is softer. */
export interface Sharper {
  readonly xx: number
  readonly xy: number
  readonly yy: number
}

/** Share of the plate's grain that each picture has, at each frequency. */
export interface Kept {
  readonly target: Readonly<Spectrum>
  readonly donor: Readonly<Spectrum>
}

/** Corners of tiles of which every pixel counts, overlapping by three quarters, spread evenly where there are many. */
export function tilesWithin(counts: (i: number) => boolean, width: number, height: number): Int32Array {
  const found: number[] = []
  const step = TILE_PX / 4
  const runs = runsOf(counts, width, height)
  for (let top = 0; top + TILE_PX <= height; top += step)
    for (let left = 0; left + TILE_PX <= width; left += step) {
      const corner = top * width + left
      let y = 0
      while (y < TILE_PX && runs[corner + y * width]! >= TILE_PX) y++
      if (y === TILE_PX) found.push(corner)
    }
  const every = Math.max(1, Math.ceil(found.length / MAX_TILES))
  return Int32Array.from(found.filter((_, i) => i % every === 0))
}

/** Per pixel, how many in a row count from it to the right. */
function runsOf(counts: (i: number) => boolean, width: number, height: number): Int32Array {
  const out = new Int32Array(width * height)
  for (let i = out.length - 1, run = 0; i >= 0; i--) {
    if (i % width === width - 1) run = 0
    run = counts(i) ? run + 1 : 0
    out[i] = run
  }
  return out
}

/** A picture's power at each frequency over weighted tiles, each in units of its own light; the grain's, for unit strength. */
export interface TilePower {
  readonly power: Spectrum
  readonly grain: number
}

/** Tiles in which two pictures show the same. */
export interface AlikeTiles {
  readonly corners: Int32Array
  /** Each has its say whatever its contrast: nobody who passes in a few of them has more than these few. */
  readonly weights: Float64Array
}

/**
 * @param target linear RGB
 * @param donor  the same, laid on the target; its light may be another one
 * @returns null where they are too few to tell
 */
export function tilesAlike(target: Frame, donor: Frame, tiles: Readonly<Int32Array>): AlikeTiles | null {
  const [a, b] = [new Float64Array(FREQUENCIES), new Float64Array(FREQUENCIES)]
  const weights: number[] = []
  const corners = tiles.filter((corner) => {
    const isLit = contrastOf(target, corner, a) > 0 && contrastOf(donor, corner, b) > 0
    if (!isLit || alike(a, b) < ALIKE) return false
    weights.push(1 / (meanSquare(a) + meanSquare(b)))
    return true
  })
  const least = Math.max(MIN_TILES, MIN_SHARE * tiles.length)
  return corners.length < least ? null : { corners, weights: Float64Array.from(weights) }
}

function meanSquare(tile: Readonly<Float64Array>): number {
  let sum = 0
  for (let i = 0; i < FREQUENCIES; i++) sum += tile[i]! ** 2
  return sum / FREQUENCIES
}

/** A Gaussian blur of `sigma` pixels, of what is there: 1 per pixel. */
export interface Blur {
  readonly sigma: number
  readonly there: Readonly<Uint8Array>
}

/** @param blur absent: the picture as it is */
export function tilePower(
  picture: Frame,
  { corners, weights }: AlikeTiles,
  model: GrainModel,
  blur?: Blur,
): TilePower {
  const blurring = blur && new TileBlur(TILE_PX, blur.sigma)
  const tile = new Float64Array(FREQUENCIES)
  const power = new Float64Array(FREQUENCIES)
  const transform = new TileTransform()
  let grain = 0
  for (const [k, corner] of corners.entries()) {
    if (blur) blurring!.tile(picture, blur.there, GREEN, corner, tile)
    else takeTile(picture, corner, tile)
    const light = toContrast(tile)
    transform.addPower(tile, weights[k]!, power)
    grain += weights[k]! * (grainAt(model, GREEN, light) / light) ** 2
  }
  return { power, grain }
}

/**
 * @param target of the tiles of both pictures that are alike
 * @returns null where there is nothing but grain
 */
export function compareSharpness(
  target: TilePower,
  donor: TilePower,
  model: GrainModel,
  kept: Kept,
): Sharper | null {
  const noise = greenPower(model, model.whole)
  const clean = ({ power, grain }: TilePower, share: Readonly<Spectrum>) =>
    power.map((v, i) => v - noise[i]! * grain * share[i]!)
  const [cleanA, cleanB] = [clean(target, kept.target), clean(donor, kept.donor)]
  return fitted(cleanA, target.power, cleanB, donor.power)
}

/** A tile's green over its own mean, less 1. @returns the mean */
function contrastOf(picture: Frame, corner: number, out: Float64Array): number {
  takeTile(picture, corner, out)
  return toContrast(out)
}

function takeTile({ data, shape: [, width] }: Frame, corner: number, out: Float64Array): void {
  for (let y = 0, i = 0; y < TILE_PX; y++)
    for (let x = 0; x < TILE_PX; x++, i++) out[i] = data[3 * (corner + y * width + x) + GREEN]!
}

function toContrast(tile: Float64Array): number {
  let sum = 0
  for (let i = 0; i < FREQUENCIES; i++) sum += tile[i]!
  const mean = sum / FREQUENCIES
  for (let i = 0; i < FREQUENCIES; i++) tile[i] = tile[i]! / mean - 1
  return mean
}

/** Correlation of two tiles of means of 2 x 2 pixels. */
function alike(a: Readonly<Float64Array>, b: Readonly<Float64Array>): number {
  let [ab, aa, bb] = [0, 0, 0]
  for (let y = 0; y < TILE_PX; y += 2)
    for (let x = 0; x < TILE_PX; x += 2) {
      const i = y * TILE_PX + x
      const u = a[i]! + a[i + 1]! + a[i + TILE_PX]! + a[i + TILE_PX + 1]!
      const v = b[i]! + b[i + 1]! + b[i + TILE_PX]! + b[i + TILE_PX + 1]!
      ab += u * v
      aa += u * u
      bb += v * v
    }
  return aa > 0 && bb > 0 ? ab / Math.sqrt(aa * bb) : 0
}

/** Weighted least squares of the logarithms; what grain was taken out of tells less. */
function fitted(
  cleanA: Readonly<Float64Array>,
  powerA: Readonly<Float64Array>,
  cleanB: Readonly<Float64Array>,
  powerB: Readonly<Float64Array>,
): Sharper | null {
  const matrix = new Float64Array(9)
  const right = new Float64Array(3)
  const most = Math.max(...cleanA, ...cleanB)
  const signed = (k: number) => (k < TILE_PX / 2 ? k : k - TILE_PX) / TILE_PX
  for (let i = 0; i < FREQUENCIES; i++) {
    const [u, v] = [signed(i % TILE_PX), signed(Math.floor(i / TILE_PX))]
    const f = Math.hypot(u, v)
    if (f < LOWEST || f > HIGHEST) continue
    const isTold = (clean: number, power: number) =>
      clean > OVER_MOST * most && clean > OVER_GRAIN * (power - clean)
    if (!isTold(cleanA[i]!, powerA[i]!) || !isTold(cleanB[i]!, powerB[i]!)) continue
    const weight = 1 / ((powerA[i]! / cleanA[i]!) ** 2 + (powerB[i]! / cleanB[i]!) ** 2)
    const value = Math.log(cleanB[i]! / cleanA[i]!) / (4 * Math.PI ** 2)
    const terms = [u * u, 2 * u * v, v * v]
    for (let s = 0; s < 3; s++) {
      right[s]! += weight * terms[s]! * value
      for (let t = s; t < 3; t++) matrix[3 * s + t]! += weight * terms[s]! * terms[t]!
    }
  }
  const solution = solveSymmetric(matrix, right, 3, 3)?.solution
  return solution === undefined ? null : { xx: solution[0]!, xy: solution[1]!, yy: solution[2]! }
}
