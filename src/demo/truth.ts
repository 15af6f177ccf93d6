// What the renderer knows about its plate, as written beside it in truth.json.
import type { Rect } from '../raster/rect.js'

export interface SceneOptions {
  /** Anything whole; the same seed gives the same bytes. */
  readonly seed?: number
  /** Size of the plate, pixels. */
  readonly width?: number
  readonly height?: number
  /** Number of the first frame. */
  readonly first?: number
  /** How many frames; the story takes all of them, whatever their number. */
  readonly frames?: number
}

export const SCENE_DEFAULTS: Required<SceneOptions> = {
  seed: 7,
  width: 960,
  height: 540,
  first: 1001,
  frames: 160,
}

export interface FrameRange {
  readonly first: number
  readonly last: number
}

export interface FrameTruth {
  readonly frame: number
  /** The frame is the rest picture times 2^exposureStops. */
  readonly exposureStops: number
  /**
   * Sway, pixels right and down: frame(x, y) = rest(x - dx, y - dy). The 2D offset that moves a donor onto a target is
   * the target's sway minus the donor's.
   */
  readonly dx: number
  readonly dy: number
}

/** A shadow or reflection that passes over a surface. */
export interface MomentTruth {
  readonly sign: 'darker' | 'brighter'
  /** Where to look for it, plate pixels; the mask is the same shape as a file. */
  readonly box: Rect
  readonly mask: string
  readonly start: number
  readonly peak: number
  readonly end: number
  /** Luminance change at its deepest point at the peak on a neutral surface, stops, without sign. */
  readonly depthStops: number
  /** The same per channel, with sign. */
  readonly channelStops: readonly [number, number, number]
  /** Luminance change over the box for every frame, stops, without sign: at the deepest point, and on average. */
  readonly depths: readonly { readonly frame: number; readonly deepest: number; readonly mean: number }[]
  /** An earlier range in which the surface is quiet, and the frame in its middle. */
  readonly target: FrameRange & { readonly peak: number }
  /** Donor frame minus target frame that lands the moment's peak on the target's. */
  readonly timeOffset: number
}

export interface SceneTruth {
  readonly schema: 'offcut.scene/1'
  readonly options: Required<SceneOptions>
  readonly plate: FrameRange & {
    /** From the folder that holds truth.json. */
    readonly pattern: string
    readonly width: number
    readonly height: number
    readonly encoding: 'srgb'
    readonly bits: 16
  }
  /** Noise variance in linear light: perLight times the signal plus floor, for red, green and blue. */
  readonly noise: { readonly perLight: readonly number[]; readonly floor: readonly number[] }
  readonly frames: readonly FrameTruth[]
  readonly hide: FrameRange & {
    /** One mask per frame of the range, and one still that covers the whole range. */
    readonly mask: string
    readonly stillMask: string
    /** What all masks of the range reach together, plate pixels. */
    readonly box: Rect
    /** Frames on which nobody stands in that box. */
    readonly empty: readonly number[]
  }
  readonly shadow: MomentTruth
  readonly reflection: MomentTruth
}
