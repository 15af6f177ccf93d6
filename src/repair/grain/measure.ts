// Measures a plate's grain where the same surface is seen in several frames: what differs between two of them is grain and
// nothing else, and texture has no say. From one frame to the next it tells how much is another one each time; between
// frames far apart it tells all that there is of it.
import { takeChannel } from '../../kernels/channels.js'
import type { Tiles } from '../../kernels/tiles.js'
import type { Workspace } from '../../kernels/workspace.js'
import { frame } from '../../raster/frame.js'
import { dilate } from '../../region/region.js'
import { changeOver } from './change-over.js'
import { detailIn, GREEN, greenPower } from './detail-spectrum.js'
import { Differences, type Law } from './differences.js'
import {
  type Lying,
  lyingOn,
  movedBy,
  nearAndFar,
  type Pair,
  type Placed,
  REACH_PX,
  type Seen,
} from './laid-frames.js'
import { type GrainModel, grainAt, type Spectrum, TILE_PX, USUAL_POWER, varianceOf } from './model.js'
import { movingTiles, type SamplesOfPair } from './moving-scenery.js'
import { type GreenPlaced, placesOf } from './places.js'
import { cutTiles, MIN_TILES, quietTiles, stacked, stackTiles } from './quiet-tiles.js'

/** Photons' own. Tiles of one surface in which light and dark lie beside each other tell of less, where noise in fact goes with each pixel. */
const MIN_POWER = 0.5
/** How strongly the usual power that is held to: as many squared stops of difference in light as tell it as well. */
const POWER_PRIOR = 2
/** Of grain more than this is another one on each frame where nothing is carried along. */
export const RENEWED = 0.9
/** Reflectance of a grey card. */
const MID_GREY = 0.18

/**
 * @param frames  some of a plate's frames over one rectangle; from neighbours it is told what changes
 * @param trusted per pixel of it, 0 where it says nothing: the region itself
 * @param clip    light from which a sample is clipped
 * @param all     take all tiles, since they are the very surface that is asked about; else the smoothest
 * @param moves   the camera does: what can't be placed is left out, where it else is taken to stand
 * @returns null where no surface is seen in two frames
 */
export function measureGrain(
  workspace: Workspace,
  frames: readonly Seen[],
  trusted: Readonly<Float32Array>,
  clip: number,
  all: boolean,
  moves = false,
): GrainModel | null {
  const middle = middleOf(frames)
  if (middle === undefined) return null
  return grainOfLying(
    workspace,
    lyingOn(workspace, middle, frames, trusted, moves),
    middle,
    trusted,
    clip,
    all,
  )
}

/** The one that all others are laid on. */
export function middleOf(frames: readonly Seen[]): Seen | undefined {
  return frames[frames.length >> 1]
}

/**
 * The same of frames of which it is known where they lie on the middle one.
 *
 * @param places tell where there is more of it, too, if it is carried along; of the very surface that is always told
 */
export function grainOfLying(
  workspace: Workspace,
  lying: readonly Lying[],
  middle: Seen,
  trusted: Readonly<Float32Array>,
  clip: number,
  all: boolean,
  places = all,
): GrainModel | null {
  const isLocked = lying.every(({ response }) => response === null)
  const within = isLocked ? trusted : margin(trusted, middle.picture.shape[1], REACH_PX)
  const tiles = quietTiles(middle.picture, within, clip, all)
  if (tiles.corners.length < MIN_TILES) return null
  const placed = placedTiles(workspace, lying, tiles, places)
  const { near, far, apart } = nearAndFar(placed)
  if (far.length === 0) return null
  const onTiles = stacked(tiles)
  const mixed = !all
  const moves = movingTiles({ near: greenOf(near), far: greenOf(far) }, onTiles, tiles, MIN_TILES)
  const long = new Differences(workspace, far, onTiles, { mixed, moves })
  if (long.usual === 0) return silent()
  const law = lawOf(long, tiles.corners.length, all)
  const whole = long.spectraUnder(law)
  const short = new Differences(workspace, near, onTiles, { mixed, moves }).spectraUnder(law, whole.mix)
  // Of what changes over several frames, as much as one of them does; and more than all of it does not change.
  const inOne = (changed: number, of: number) =>
    of > 0 ? of * (1 - Math.max(0, 1 - changed / of) ** (1 / apart)) : 0
  const fresh = short.spectra.map((s, k) => s.map((v, i) => inOne(v, whole.spectra[k]![i]!)))
  const grain = { whole: whole.spectra, fresh }
  const { width } = tiles
  const hasPlaces = all || (places && renewalOf(grain) <= RENEWED)
  return {
    ...law,
    ...grain,
    where: hasPlaces
      ? placesOf(workspace, { near, far }, law, detailIn(greenPower(whole, short.spectra)), trusted, width)
      : null,
    mix: whole.mix,
    changes: all ? null : changeOfNeighbours(workspace, lying, trusted),
  }
}

function greenOf(pairs: readonly Pair[]): SamplesOfPair[] {
  const samples = ({ picture }: Placed) => ({ data: picture.data, step: 3, first: GREEN })
  return pairs.map(([a, b]) => [samples(a), samples(b)])
}

/** @returns null where no two follow each other that lie on each other as they were read */
function changeOfNeighbours(
  workspace: Workspace,
  lying: readonly Lying[],
  trusted: Readonly<Float32Array>,
): number | null {
  const still = lying.filter(({ response }) => response === null)
  const found = still.flatMap(({ frame: number, asRead }, i) => {
    const next = still[i + 1]
    const change =
      next?.frame === number + 1 ? changeOver(workspace, asRead, next.asRead, trusted, true) : null
    return change === null ? [] : [change]
  })
  return found.length > 0 ? found.reduce((sum, v) => sum + v, 0) / found.length : null
}

/** Of each frame the tiles that are looked at, and green all over where that is: of a large region all of it is gigabytes. */
function placedTiles(
  workspace: Workspace,
  lying: readonly Lying[],
  tiles: Tiles,
  isWhole: boolean,
): GreenPlaced[] {
  return lying.map(({ asRead, ...at }) => {
    const picture = frame(TILE_PX * tiles.corners.length, TILE_PX, 3)
    let green: Float32Array | undefined
    if (at.response === null) {
      cutTiles(tiles, asRead.data, picture.data)
      if (isWhole) {
        green = new Float32Array(asRead.data.length / 3)
        takeChannel(workspace, asRead.data, GREEN, green)
      }
    } else
      movedBy(workspace, { asRead, ...at }, (channel, c) => {
        stackTiles(tiles, channel, c, picture.data)
        if (c === GREEN && isWhole) green = channel.slice()
      })
    return { ...at, picture, green: green ?? NONE }
  })
}

const NONE = new Float32Array(0)

/** A plate without any grain: drawn, or cleaned. */
function silent(): GrainModel {
  const none = [0, 1, 2].map(() => new Float64Array(TILE_PX * TILE_PX))
  return {
    level: [0, 0, 0],
    power: [1, 1, 1],
    where: null,
    mix: Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1),
    whole: none,
    fresh: none,
    changes: 0,
  }
}

/** Pixels that lie this far from untrusted ones and from the rectangle's edge. */
function margin(trusted: Readonly<Float32Array>, width: number, px: number): Float32Array {
  const height = trusted.length / width
  const near = dilate(
    Uint8Array.from(trusted, (v) => (v > 0 ? 0 : 1)),
    width,
    height,
    px,
  )
  const out = new Float32Array(trusted.length)
  for (let y = px; y < height - px; y++)
    for (let x = px; x < width - px; x++) {
      const i = y * width + x
      if (near[i] === 0) out[i] = trusted[i]!
    }
  return out
}

/** Least squares of log variance over log light, held to the usual power where a plate shows one light only. */
function lawOf(all: Differences, tiles: number, isPlaced: boolean): Law {
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
    const b = Math.min(1.2, Math.max(isPlaced ? MIN_POWER : 0, USUAL_POWER + xy / xx))
    // The level is that of the mean variance, not of its mean logarithm.
    const shape = points.reduce((sum, { x }) => sum + 2 ** (2 * b * x), 0)
    level.push(Math.sqrt(total / shape))
    power.push(b)
  }
  return { level: [level[0]!, level[1]!, level[2]!], power: [power[0]!, power[1]!, power[2]!] }
}

/** How much of all grain is another one in the next frame, 0 to 1. */
export function renewalOf({ whole, fresh }: Pick<GrainModel, 'whole' | 'fresh'>): number {
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
