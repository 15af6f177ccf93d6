// A change in linear light, per tile and channel: its colour, and whether a shadow or a gleam can be what lifting it would
// multiply with. A sky-lit shadow is bluer than what it falls on, a reflection takes the colour of its source.

import { LUMINANCE_WEIGHTS } from '../../colour/luminance.js'
import { LIT } from '../../match/light-change.js'
import { isAgainstLight, type Sign } from '../../match/light-law.js'
import { NEAREST, taps } from '../../raster/filters.js'
import { HALF_VALUES } from '../../raster/half.js'
import type { Rect } from '../../raster/rect.js'
import { shiftOf } from '../../raster/transform.js'
import type { Region } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Steps } from '../../turns.js'
import type { Registered } from '../register.js'
import type { FrameChange, Measured } from './changes.js'

/** Less of the region than this, on every frame, is grain, or an edge of somebody. */
const MIN_AGAINST = 0.02
/** So much of what changes while the change is strong, at the mean, and it is no light. */
const NO_LIGHT = 0.1

/** What the light of tiles is summed from. */
export interface TileSource {
  readonly measured: Pick<Measured, 'grid' | 'reference' | 'exposures'>
  /** With light that is kept, in halves, R, G and B of each pixel of `rect`. */
  readonly seen: readonly (FrameKey & { readonly lit?: { readonly rgb: Uint16Array } | null })[]
  /** What the frames are kept over, plate pixels. */
  readonly rect: Rect
  readonly region: Pick<Region, 'window'>
}

/** A frame and its pose. */
export type Placed = Pick<Registered, 'plate' | 'frame' | 'pose'>

/** The frame on which a lift is furthest from light. */
export interface AgainstLight {
  readonly frame: number
  /** Share of the region. */
  readonly share: number
  /** Least and largest factor of any changed tile and channel there. */
  readonly low: number
  readonly high: number
  /** All through the moment, not only while somebody passes: it is no light at all. */
  readonly always: boolean
}

/**
 * Sums of R, G and B over each tile, three in a row, in the common light. Whole-pixel poses do: sums hardly change over a
 * fraction. Tiles beyond the kept rectangle have what there is of them.
 */
export function tileLight({ measured, seen, rect, region }: TileSource, f: Placed): Float64Array {
  const { grid, exposures } = measured
  const key = keyOf(f)
  const { rgb } = seen.find((s) => keyOf(s) === key)!.lit!
  const { gain } = exposures.get(key)!
  const { dx, dy } = shiftOf(f.pose, region.window)
  const left = region.window.x - rect.x + taps(dx, NEAREST).start
  const top = region.window.y - rect.y + taps(dy, NEAREST).start
  const out = new Float64Array(3 * grid.weight.length)
  for (let y = 0; y < grid.height; y++) {
    const row = Math.floor(y / grid.size) * grid.columns
    const sy = y + top
    if (sy < 0 || sy >= rect.h) continue
    for (let x = 0; x < grid.width; x++) {
      const sx = x + left
      if (sx < 0 || sx >= rect.w) continue
      const i = (sy * rect.w + sx) * 3
      const to = 3 * (row + Math.floor(x / grid.size))
      for (let c = 0; c < 3; c++) {
        const value = HALF_VALUES[rgb[i + c]]
        if (Number.isFinite(value)) out[to + c] += gain[c] * value
      }
    }
  }
  return out
}

/** The mean of several frames' tiles. */
export function* meanTileLight(job: TileSource, frames: readonly Placed[]): Steps<Float64Array> {
  const out = new Float64Array(3 * job.measured.grid.weight.length)
  for (const f of frames) {
    yield
    const light = tileLight(job, f)
    for (let i = 0; i < out.length; i++) out[i] += light[i] / frames.length
  }
  return out
}

/**
 * Change of each channel over the change of luminance, on the changed tiles: sums of light over sums of light, so that
 * dark pixels have no more to say than they shine.
 *
 * @param before the reference state's light per tile and channel, as `tileLight` has it
 */
export function changeColour(
  job: TileSource,
  change: FrameChange,
  at: Placed,
  before: Readonly<Float64Array>,
  sign: Sign,
): [number, number, number] {
  const { grid, reference } = job.measured
  const light = tileLight(job, at)
  const now = [0, 0, 0]
  const then = [0, 0, 0]
  for (let tile = 0; tile < change.kind.length; tile++) {
    const down = change.tiles.change[tile] - reference.change[tile] < 0
    if (grid.weight[tile] === 0 || change.kind[tile] !== LIT || down !== (sign === 'darker')) continue
    for (let c = 0; c < 3; c++) {
      now[c] += light[3 * tile + c]
      then[c] += before[3 * tile + c]
    }
  }
  const luminance = (v: readonly number[]) => LUMINANCE_WEIGHTS.reduce((sum, w, c) => sum + w * v[c], 0)
  const whole = luminance(now) / luminance(then)
  const factor = (c: number) => {
    const value = now[c] / then[c] / whole
    return Number.isFinite(value) ? Number(value.toFixed(4)) : 1
  }
  return [factor(0), factor(1), factor(2)]
}

/**
 * @param frames of the moment; `strong`: it is near its peak there
 * @param before the reference state's light per tile and channel, as `tileLight` has it
 * @returns null where all that changes can be light
 */
export function* againstLight(
  job: TileSource,
  frames: readonly { readonly change: FrameChange; readonly at: Placed; readonly strong: boolean }[],
  before: Readonly<Float64Array>,
  sign: Sign,
): Steps<AgainstLight | null> {
  const { grid } = job.measured
  let worst: Omit<AgainstLight, 'always'> | null = null
  const shares: number[] = []
  for (const { change, at, strong } of frames) {
    yield
    const now = tileLight(job, at)
    let [low, high, against, lit] = [1, 1, 0, 0]
    for (let tile = 0; tile < change.kind.length; tile++) {
      if (grid.weight[tile] === 0 || change.kind[tile] !== LIT) continue
      lit += grid.weight[tile]
      if (isAgainstLight(now, before, 3 * tile, sign)) against += grid.weight[tile]
      for (let c = 3 * tile; c < 3 * tile + 3; c++) {
        if (!(before[c] > 0)) continue
        low = Math.min(low, now[c] / before[c])
        high = Math.max(high, now[c] / before[c])
      }
    }
    const share = against / Math.max(grid.totalWeight, 1e-9)
    if (strong && lit > 0) shares.push(against / lit)
    if (share > MIN_AGAINST && share > (worst?.share ?? 0)) worst = { frame: at.frame, share, low, high }
  }
  if (worst === null) return null
  const mean = shares.reduce((sum, v) => sum + v, 0) / Math.max(1, shares.length)
  return { ...worst, always: mean > NO_LIGHT }
}
