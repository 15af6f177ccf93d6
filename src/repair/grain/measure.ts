// Measures a plate's grain where the same surface is seen in several frames: what differs between two of them is grain and
// nothing else, and texture has no say. From one frame to the next it tells how much is another one each time; between
// frames far apart it tells all that there is of it.

import { resample } from '../../kernels/resample.js'
import type { Workspace } from '../../kernels/workspace.js'
import { align, HELD_SIGMA } from '../../match/align.js'
import { LOG_FLOOR } from '../../match/log-luminance.js'
import { prepareReference, type Reference } from '../../match/reference.js'
import { LOCKED_PX } from '../../match/thresholds.js'
import { LANCZOS3, taps } from '../../raster/filters.js'
import type { Frame } from '../../raster/frame.js'
import { type Plane, plane } from '../../raster/plane.js'
import { boxBlur } from '../../raster/pyramid.js'
import { shift } from '../../raster/transform.js'
import { eigenOf } from './eigen.js'
import { type GrainModel, grainAt, type Spectrum, TILE_PX, varianceOf } from './model.js'
import { MIN_TILES, quietTiles, type Tiles } from './quiet-tiles.js'
import { responseOf, TileTransform } from './spectrum.js'

/** From one frame to the next a camera moves less than this; frames further off are not compared. */
const REACH_PX = 8
const PIXELS = TILE_PX * TILE_PX
/** Somebody who passes differs by more than this many times the usual variance, or of the mean by so many sigma. */
const PASSING = 4
/** So many pairs tell; more take their time. */
const MAX_PAIRS = 12
/** Frames further apart than this show another light. */
const MAX_APART = 30
/** How grain goes with light where a plate does not show enough of both: between photons (0.5) and a display's code (0.6). */
const USUAL_POWER = 0.55
/** ... and how strongly that is held to: as many squared stops of difference in light as tell it as well. */
const POWER_PRIOR = 2
/** Grain's place is told by its detail, what differs from the mean of so many pixels either way, over so many either way. */
const DETAIL_PX = 2
const LOCAL_PX = 4
/** No place has more than so many times the usual standard deviation. */
const MOST_AT_PLACE = 3
/** At one place it is at most so many times the usual variance: more is somebody who passes. */
const MOST_LOCAL = 16
/** Reflectance of a grey card. */
const MID_GREY = 0.18
/** What no half-float file and no screen keeps of light is no grain. */
const LEAST_SHARE = 1e-5

/** A frame of the plate over one rectangle. */
export interface Seen {
  readonly frame: number
  /** Linear RGB. */
  readonly picture: Frame
}

/**
 * @param frames  some of a plate's frames over one rectangle; from neighbours it is told what changes
 * @param trusted per pixel of it, 0 where it says nothing: the region itself
 * @param clip    light from which a sample is clipped
 * @param all     take all tiles, since they are the very surface that is asked about; else the smoothest
 * @returns null where no surface is seen in two frames
 */
export function measureGrain(
  workspace: Workspace,
  frames: readonly Seen[],
  trusted: Readonly<Float32Array>,
  clip: number,
  all: boolean,
): GrainModel | null {
  const middle = frames[frames.length >> 1]
  if (middle === undefined) return null
  const placed = laidOn(workspace, middle, frames, trusted)
  const isLocked = placed.every(({ response }) => response === null)
  const within = isLocked ? trusted : margin(trusted, middle.picture.shape[1], REACH_PX)
  const tiles = quietTiles(middle.picture, within, clip, all)
  if (tiles.corners.length < MIN_TILES) return null
  const { near, far, apart } = nearAndFar(placed)
  if (far.length === 0) return null
  const long = new Differences(far, tiles)
  if (long.usual === 0) return silent()
  const law = lawOf(long, tiles.corners.length)
  const whole = long.spectraUnder(law)
  const short = new Differences(near, tiles).spectraUnder(law, whole.mix)
  // Of what changes over several frames, as much as one of them does; and more than all of it does not change.
  const inOne = (changed: number, of: number) =>
    of > 0 ? of * (1 - Math.max(0, 1 - changed / of) ** (1 / apart)) : 0
  return {
    ...law,
    where: all ? placesOf(near, law, trusted) : null,
    mix: whole.mix,
    whole: whole.spectra,
    fresh: short.spectra.map((s, k) => s.map((v, i) => inOne(v, whole.spectra[k]![i]!))),
  }
}

/** A plate without any grain: drawn, or cleaned. */
function silent(): GrainModel {
  const none = [0, 1, 2].map(() => new Float64Array(PIXELS))
  return {
    level: [0, 0, 0],
    power: [1, 1, 1],
    where: null,
    mix: Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1),
    whole: none,
    fresh: none,
  }
}

/** A frame laid on the middle one. */
interface Placed extends Seen {
  /** What the move left of noise at each frequency; null where nothing was moved. */
  readonly response: Spectrum | null
}

function laidOn(
  workspace: Workspace,
  middle: Seen,
  frames: readonly Seen[],
  trusted: Readonly<Float32Array>,
): Placed[] {
  const [height, width] = middle.picture.shape
  const reference = referenceOf(workspace, middle.picture, trusted)
  const out: Placed[] = []
  for (const seen of frames) {
    if (seen === middle) {
      out.push({ ...seen, response: null })
      continue
    }
    // A held frame is no second witness.
    if ([middle, ...out].some(({ picture }) => same(picture, seen.picture))) continue
    const found = align(workspace, reference, lightOf(seen.picture), REACH_PX)
    const held = found !== null && found.sigma <= HELD_SIGMA
    if (!held || Math.hypot(found.dx, found.dy) <= LOCKED_PX) {
      out.push({ ...seen, response: null })
      continue
    }
    if (Math.max(Math.abs(found.dx), Math.abs(found.dy)) >= REACH_PX - 1) continue
    const { dx, dy } = found
    const data = new Float32Array(seen.picture.data.length)
    const [from, to] = [plane(0, 0, width, height), plane(0, 0, width, height)]
    for (let c = 0; c < 3; c++) {
      for (let i = 0; i < from.data.length; i++) from.data[i] = finite(seen.picture.data[3 * i + c]!)
      resample(workspace, from, shift(dx, dy), to, LANCZOS3)
      for (let i = 0; i < to.data.length; i++) data[3 * i + c] = to.data[i]!
    }
    const picture = { ...seen.picture, data } as Frame
    const response = responseOf(taps(dx, LANCZOS3).weights, taps(dy, LANCZOS3).weights)
    out.push({ frame: seen.frame, picture, response })
  }
  return out
}

function referenceOf(workspace: Workspace, picture: Frame, trusted: Readonly<Float32Array>): Reference {
  return prepareReference(workspace, lightOf(picture), trusted, REACH_PX)
}

function lightOf({ data, shape: [height, width] }: Frame): Plane {
  const out = plane(0, 0, width, height)
  for (let i = 0, j = 0; i < out.data.length; i++, j += 3)
    out.data[i] = Math.log2(Math.max(0, finite((data[j]! + data[j + 1]! + data[j + 2]!) / 3)) + LOG_FLOOR)
  return out
}

function finite(value: number): number {
  return Number.isFinite(value) ? value : 0
}

function same(a: Frame, b: Frame): boolean {
  for (let i = 0; i < a.data.length; i++) if (!Object.is(a.data[i], b.data[i])) return false
  return true
}

/** Pixels that lie this far from untrusted ones and from the rectangle's edge. */
function margin(trusted: Readonly<Float32Array>, width: number, px: number): Float32Array {
  const height = trusted.length / width
  const out = new Float32Array(trusted.length)
  for (let y = px; y < height - px; y++)
    for (let x = px; x < width - px; x++) {
      const i = y * width + x
      out[i] = trusted[i]!
    }
  return out
}

type Pair = readonly [Placed, Placed]

/** Pairs that are so many frames apart, an even share of many. */
function pairsOf(placed: readonly Placed[], least: number, most: number): Pair[] {
  const all = placed.flatMap((a) =>
    placed.flatMap((b): Pair[] => {
      const apart = b.frame - a.frame
      return apart >= least && apart <= most ? [[a, b]] : []
    }),
  )
  const every = Math.max(1, Math.ceil(all.length / MAX_PAIRS))
  return all.filter((_, i) => i % every === 0)
}

/** Neighbours, or what is nearest to it; and pairs as far apart as there are some, but for light that drifts. */
function nearAndFar(placed: readonly Placed[]): { near: Pair[]; far: Pair[]; apart: number } {
  const gaps = placed.flatMap((a) => placed.map((b) => b.frame - a.frame)).filter((gap) => gap > 0)
  if (gaps.length === 0) return { near: [], far: [], apart: 1 }
  const apart = Math.min(...gaps)
  const longest = Math.max(...gaps.filter((gap) => gap <= MAX_APART), apart)
  return {
    near: pairsOf(placed, apart, apart),
    far: pairsOf(placed, Math.max(apart, Math.ceil((2 * longest) / 3)), longest),
    apart,
  }
}

/** The law of light, and components with their spectra. */
type Law = Pick<GrainModel, 'level' | 'power'>

/** Differences of pairs over tiles, brought to the same light, each tile's mean taken out; of independent grain the variance is one frame's. */
class Differences {
  /** Variance of a tile in luminance-like sum of channels, median over all. */
  readonly usual: number
  readonly #energy: Float64Array
  readonly #limit: Float64Array
  /** Per pair and tile: mean light and variance of R, G and B. */
  readonly light: Float64Array
  readonly variance: Float64Array

  constructor(
    readonly pairs: readonly Pair[],
    readonly tiles: Tiles,
  ) {
    const n = pairs.length * tiles.corners.length
    this.#energy = new Float64Array(n)
    this.light = new Float64Array(3 * n)
    this.variance = new Float64Array(3 * n)
    const tile = new Float64Array(3 * PIXELS)
    this.#each((k) => {
      let energy = 0
      for (let c = 0; c < 3; c++) {
        let squares = 0
        for (let i = 0; i < PIXELS; i++) squares += tile[c * PIXELS + i]! ** 2
        this.variance[3 * k + c] = squares / PIXELS
        energy += squares / PIXELS / Math.max(1e-9, this.light[3 * k + c]!)
      }
      this.#energy[k] = energy
    }, tile)
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

/** Least squares of log variance over log light, held to the usual power where a plate shows one light only. */
function lawOf(all: Differences, tiles: number): Law {
  const level: number[] = []
  const power: number[] = []
  for (let c = 0; c < 3; c++) {
    const points: { x: number; v: number }[] = []
    for (let t = 0; t < tiles; t++) {
      let [light, variance, n] = [0, 0, 0]
      for (let p = 0; p < all.pairs.length; p++) {
        const k = p * tiles + t
        if (!all.isCalm(k)) continue
        light += all.light[3 * k + c]!
        variance += all.variance[3 * k + c]!
        n++
      }
      if (n > 0 && light > 0) points.push({ x: Math.log2(light / n), v: variance / n })
    }
    const total = points.reduce((sum, { v }) => sum + v, 0)
    if (total === 0) {
      level.push(0)
      power.push(USUAL_POWER)
      continue
    }
    const mid = points.reduce((sum, { x }) => sum + x, 0) / points.length
    const floor = (0.05 * total) / points.length
    let [xx, xy] = [POWER_PRIOR, 0]
    for (const { x, v } of points) {
      const y = Math.log2(v + floor) / 2 - USUAL_POWER * x
      xx += (x - mid) ** 2
      xy += (x - mid) * y
    }
    const b = Math.min(1.2, Math.max(0, USUAL_POWER + xy / xx))
    // The level is that of the mean variance, not of its mean logarithm.
    const shape = points.reduce((sum, { x }) => sum + 2 ** (2 * b * x), 0)
    level.push(Math.sqrt(total / shape))
    power.push(b)
  }
  return { level: [level[0]!, level[1]!, level[2]!], power: [power[0]!, power[1]!, power[2]!] }
}

/** Of an orthonormal matrix the inverse is its transpose. */
function inverseOf(matrix: Readonly<Float64Array>): Float64Array {
  return Float64Array.from({ length: 9 }, (_, i) => matrix[3 * (i % 3) + Math.floor(i / 3)]!)
}

/**
 * Where there is more of it and where less, beside what the light tells: a codec keeps it at edges and takes it from smooth
 * places. A factor of the standard deviation per pixel, whose mean square over the trusted pixels is 1.
 */
function placesOf(
  pairs: readonly Pair[],
  { level, power }: Law,
  trusted: Readonly<Float32Array>,
): Float32Array {
  const [height, width] = pairs[0]![0].picture.shape
  const green = 1
  const local = pairs.map(([a, b]) => {
    const difference = plane(0, 0, width, height)
    for (let i = 0; i < difference.data.length; i++) {
      const [one, two] = [a.picture.data[3 * i + green]!, b.picture.data[3 * i + green]!]
      const sigma = level[green]! * Math.max(1e-4, (one + two) / 2) ** power[green]!
      difference.data[i] = sigma > 0 ? finite((one - two) / sigma) : 0
    }
    const mean = boxBlur(difference, DETAIL_PX).data
    for (let i = 0; i < mean.length; i++) mean[i] = (difference.data[i]! - mean[i]!) ** 2
    return boxBlur({ ...difference, data: mean }, LOCAL_PX).data
  })
  const seen: number[] = []
  for (let i = 0; i < trusted.length; i += 3)
    if (trusted[i]! > 0) for (const l of local) if (l[i]! > LEAST_SHARE) seen.push(l[i]!)
  const limit = MOST_LOCAL * (seen.sort((a, b) => a - b)[seen.length >> 1] ?? 0)
  const out = new Float32Array(trusted.length)
  let [sum, n] = [0, 0]
  for (let i = 0; i < out.length; i++) {
    let energy = 0
    for (const l of local) energy += Math.min(l[i]!, limit) / local.length
    out[i] = energy
    if (trusted[i]! > 0) {
      sum += energy
      n++
    }
  }
  const mean = n > 0 ? sum / n : 0
  // Running sums may end a hair below nothing.
  return out.map((v) => (mean > 0 ? Math.min(MOST_AT_PLACE, Math.sqrt(Math.max(0, v) / mean)) : 1))
}

/** How much of all grain is another one in the next frame, 0 to 1. */
export function renewalOf({ whole, fresh }: GrainModel): number {
  const sum = (of: readonly Spectrum[]) => of.reduce((total, s) => total + varianceOf(s), 0)
  const all = sum(whole)
  return all > 0 ? sum(fresh) / all : 1
}

/** Variance of grain at mid grey, all channels together, linear light: all of it, or half of what changes from frame to frame. */
export function grainVariance(model: GrainModel, of: 'whole' | 'fresh' = 'whole'): number {
  let sum = 0
  for (let c = 0; c < 3; c++)
    for (let k = 0; k < 3; k++)
      sum += grainAt(model, c, MID_GREY) ** 2 * model.mix[3 * c + k]! ** 2 * varianceOf(model[of][k]!)
  return sum
}
