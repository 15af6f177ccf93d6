// Moments: stretches of frames in which the light on the region changes, or something stands in it.
// One shadow is one moment, whatever walks past in front of it.

import { BESIDE, COVERED, changedFrom, LIT, SMOOTH_OCCLUDER_STOPS } from '../../match/light-change.js'
import { isGone, surfaceCorrelation, TextureSum } from '../../match/surface.js'
import type { ReferenceTiles, TileGrid } from '../../match/tiles.js'
import type { FrameChange } from './changes.js'
import { depthOf, filledStrength, plateauMiddle } from './strength.js'
import { type Stretch, stretches } from './stretches.js'

/** A moment on a plate; frames are frame numbers. */
export interface FoundMoment {
  readonly start: number
  readonly peak: number
  readonly end: number
  readonly what: 'light' | 'object'
  readonly sign: 'darker' | 'brighter'
  /** Change of luminance where it is deepest at the peak, stops, without sign. */
  readonly depthStops: number
  /** Share of the region that is changed at the peak. */
  readonly coverage: number
  /** Correlation of the texture with the reference state; null where there is no texture to tell by. */
  readonly surface: number | null
  /** All that changes while it is strong taken together, the surface's texture is not there: too faint to tell tile by tile. */
  readonly hidesSurface: boolean
  /** Of all that changed on these frames, the share that is light and no occluder, 0 to 1. */
  readonly lightShare: number
  /** Mean change over the region at the peak, stops. */
  readonly strength: number
  /** The same per frame from start to end, stops, without sign; frames on which too little shows are left out. */
  readonly course: ReadonlyMap<number, number>
}

/** A change starts when it is this strong over the region: 0.15 stops on a fifteenth of it. */
const START_STOPS = 0.01
/** It lasts while it is above this, which a single tile's grain seldom is ... */
const END_STOPS = 0.004
/** Less of the region than this says nothing about the light on it. */
const MIN_VISIBLE = 0.35
/** An occluder counts from this share of the region on, and lasts down to the second. */
const START_COVERED = 0.04
const END_COVERED = 0.01
/** A change is light when at least this share of it is. */
const LIGHT_SHARE = 0.5
/** Frames on which a change has at least this share of its peak's strength tell whether it is light. */
export const STRONG_SHARE = 0.5

/**
 * All moments of one plate, in order of their start.
 *
 * @param frames measured, in order
 */
export function findMoments(
  frames: readonly FrameChange[],
  reference: ReferenceTiles,
  grid: TileGrid,
): FoundMoment[] {
  const unknown = (f: FrameChange) => f.visible < MIN_VISIBLE
  const found: FoundMoment[] = []
  for (const sign of ['darker', 'brighter'] as const) {
    const strength = Float64Array.from(frames, (f) => (unknown(f) ? Number.NaN : f[sign]))
    for (const stretch of stretches(frames, strength, START_STOPS, END_STOPS)) {
      const moment = lightMoment(frames, strength, stretch, sign, reference, grid)
      if (moment.what === 'light' || moment.hidesSurface) found.push(moment)
    }
  }
  const covered = Float64Array.from(frames, (f) => f.covered)
  for (const stretch of stretches(frames, covered, START_COVERED, END_COVERED)) {
    found.push(objectMoment(frames, covered, stretch, reference, grid))
  }
  return found.sort((a, b) => a.start - b.start || a.peak - b.peak)
}

function lightMoment(
  frames: readonly FrameChange[],
  strength: Readonly<Float64Array>,
  { from, to }: Stretch,
  sign: 'darker' | 'brighter',
  reference: ReferenceTiles,
  grid: TileGrid,
): FoundMoment {
  const filled = filledStrength(frames, strength, { from, to }, sign, reference, grid)
  const peak = plateauMiddle(filled, from, to)
  // By area, and where the change is at its strongest: who walks past later has no say, however dark his coat.
  let light = 0
  let occluders = 0
  const deep = depthOf(frames[peak], reference, grid, (k) => k === LIT, sign).depth / 2
  const texture = new TextureSum()
  for (let i = from; i <= to; i++) {
    if (!(strength[i] >= STRONG_SHARE * strength[peak])) continue
    const { kind, tiles } = frames[i]
    for (let tile = 0; tile < kind.length; tile++) {
      const w = grid.weight[tile]
      if (w === 0) continue
      const change = tiles.change[tile] - reference.change[tile]
      if (kind[tile] === LIT && change < 0 === (sign === 'darker')) {
        light += w
        if (Math.abs(change) > deep) texture.add(tiles, reference, tile)
      } else if (
        kind[tile] === COVERED ||
        (kind[tile] === BESIDE && Math.abs(change) > changedFrom(reference, tile))
      )
        occluders += w
    }
  }
  const lightShare = light / Math.max(light + occluders, 1e-9)
  const at = frames[peak]
  const { depth, coverage } = depthOf(at, reference, grid, (k) => k === LIT, sign)
  const isLight = lightShare >= LIGHT_SHARE
  const hidesSurface = isLight && depth >= SMOOTH_OCCLUDER_STOPS && isGone(texture.kept())
  return {
    start: frames[from].frame,
    peak: at.frame,
    end: frames[to].frame,
    what: isLight && !hidesSurface ? 'light' : 'object',
    hidesSurface,
    sign,
    depthStops: depth,
    coverage,
    surface: surfaceCorrelation(at.tiles, reference, (c) => grid.weight[c] > 0 && at.kind[c] === LIT),
    lightShare,
    strength: filled[peak],
    course: courseOf(frames, filled, { from, to }),
  }
}

function objectMoment(
  frames: readonly FrameChange[],
  covered: Readonly<Float64Array>,
  { from, to }: Stretch,
  reference: ReferenceTiles,
  grid: TileGrid,
): FoundMoment {
  const peak = plateauMiddle(covered, from, to)
  const at = frames[peak]
  let sum = 0
  for (let c = 0; c < at.kind.length; c++)
    if (at.kind[c] === COVERED) sum += grid.weight[c] * (at.tiles.change[c] - reference.change[c])
  const sign = sum < 0 ? 'darker' : 'brighter'
  const { depth, coverage } = depthOf(at, reference, grid, (k) => k === COVERED || k === BESIDE, sign)
  return {
    start: frames[from].frame,
    peak: at.frame,
    end: frames[to].frame,
    what: 'object',
    hidesSurface: true,
    sign,
    depthStops: depth,
    coverage,
    surface: surfaceCorrelation(at.tiles, reference, (c) => grid.weight[c] > 0 && at.kind[c] === COVERED),
    lightShare: 0,
    strength: Math.abs(sum) / Math.max(grid.totalWeight, 1e-9),
    course: courseOf(
      frames,
      Float64Array.from(frames, (f) => f[sign]),
      { from, to },
    ),
  }
}

function courseOf(
  frames: readonly FrameChange[],
  values: Readonly<Float64Array>,
  { from, to }: Stretch,
): Map<number, number> {
  const course = new Map<number, number>()
  for (let i = from; i <= to; i++) if (!Number.isNaN(values[i])) course.set(frames[i].frame, values[i])
  return course
}
