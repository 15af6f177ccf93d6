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

/** On market day: another seed gives other stones, and a smaller plate takes a fraction of the time. */
export const MARKET_DEFAULTS: Required<SceneOptions> = {
  seed: 8,
  width: 640,
  height: 360,
  first: 1001,
  frames: 64,
}

/** A quiet day with a porter, a shadow and a reflection; a market day on which people pass without a break. */
export type StoryName = 'quay' | 'market'

/** Options complete, and what happens. */
export interface Scene extends Required<SceneOptions> {
  readonly story: StoryName
}

/** What is left out of a frame. */
export interface LeftOut {
  readonly porter?: boolean
  /** The shopper who is to be hidden on market day. */
  readonly shopper?: boolean
  /** All the others. */
  readonly passers?: boolean
  readonly shadow?: boolean
  readonly reflection?: boolean
}

export interface FrameRange {
  readonly first: number
  readonly last: number
}

interface FrameTruth {
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

/** What is true of either plate. */
export interface PlateTruth {
  readonly schema: 'offcut.scene/1'
  readonly story: StoryName
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
}

/** Who is to be hidden, and when. */
export interface HideTruth extends FrameRange {
  /** One still that covers the whole range. */
  readonly stillMask: string
  /** What it reaches, plate pixels. */
  readonly box: Rect
  /** Frames on which nobody stands in that box. */
  readonly empty: readonly number[]
}

export interface SceneTruth extends PlateTruth {
  readonly story: 'quay'
  /** The porter; `mask` has one mask per frame of the range. */
  readonly hide: HideTruth & { readonly mask: string }
  readonly shadow: MomentTruth
  readonly reflection: MomentTruth
}

export interface MarketTruth extends PlateTruth {
  readonly story: 'market'
  /** The shopper; `empty` has no frame. */
  readonly hide: HideTruth
}
