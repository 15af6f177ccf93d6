// What the server tells its pages, one JSON object a message, over one stream of server-sent events; and what it answers.
import type { EarlyCandidate, EarlyMatrix } from '../search/events.js'
import type { ShotState } from './shot-state.js'

/** What a plate is, as far as its names and first header tell. */
export interface PlateAbout {
  readonly spec: string
  readonly name: string
  readonly frames: readonly number[]
  readonly gaps: readonly { readonly first: number; readonly last: number }[]
  readonly width: number
  readonly height: number
  readonly pixelAspect: number
  readonly format: string
  readonly bitDepth: string
  readonly encoding: string
  readonly encodingWhy: string
  readonly framesPerSecond: number | null
}

/** A shot in the list of recent ones. */
export interface ShotSummary {
  readonly name: string
  readonly plate: string
  readonly aim: 'hide' | 'borrow'
  readonly frames: string
  readonly searches: number
  /** ISO time of its last change. */
  readonly at: string
  /** Why it can't be opened now: its plate is gone, say. */
  readonly fault?: string
}

/** `GET shots/NAME`: all of a shot. Its plates: the target's first, then the donors'. */
export interface OpenedShot {
  readonly state: ShotState
  readonly plates: readonly PlateAbout[]
  /** What would be run now, as it can be typed; null with the reason while something is missing. */
  readonly command: string | null
  readonly missing: string | null
}

/** What a frame of the strip shows. */
export interface StripFrame {
  readonly frame: number
  /** Mean of log2 luminance over the frame; null where it can't be read. */
  readonly light: number | null
  /** How far the picture moved since the frame before, pixels of the plate; null where nothing tells. */
  readonly moved: number | null
  /** Number of the earlier frame that it repeats; null: of none. */
  readonly repeats: number | null
  /** Why it can't be read. */
  readonly message?: string
}

/** How light the surface is that a borrow hunts on. */
export interface SurfaceFrame {
  readonly frame: number
  /** Mean of log2 luminance over it; null where nothing of it is known. */
  readonly light: number | null
}

export type Message =
  | { readonly kind: 'shots'; readonly shots: readonly ShotSummary[] }
  | { readonly kind: 'shot'; readonly shot: string; readonly opened: OpenedShot }
  /** Something went wrong that nobody waits for an answer of: a state that can't be saved, say. */
  | { readonly kind: 'fault'; readonly shot: string; readonly message: string }
  /** Of a plate of the shot: a part of its strip. */
  | {
      readonly kind: 'strip'
      readonly shot: string
      readonly plate: number
      readonly frames: readonly StripFrame[]
    }
  /**
   * Of the target's plate: a part of the light of the surface that a borrow hunts on. Another number is another surface, for which
   * nothing counts that was told before.
   */
  | {
      readonly kind: 'surface'
      readonly shot: string
      readonly surface: number
      /** The area that it is; null: none is drawn. */
      readonly of: 'lookIn' | 'region' | null
      readonly frames: readonly SurfaceFrame[]
      /** Why it has no light: its file is no mask of this plate, say. */
      readonly message?: string
    }
  /** How far a search or patch is. */
  | {
      readonly kind: 'progress'
      readonly shot: string
      readonly folder: string
      readonly phase: string
      readonly done: number
      readonly total: number
    }
  /** The best that can be said of what was read so far. */
  | {
      readonly kind: 'ranking'
      readonly shot: string
      readonly folder: string
      readonly read: number
      readonly total: number
      readonly candidates: readonly EarlyCandidate[]
      readonly matrix?: EarlyMatrix
    }
  /** A target frame compared with every donor: quality 0 to 100, null where nothing can be said. */
  | {
      readonly kind: 'row'
      readonly shot: string
      readonly folder: string
      readonly target: number
      readonly donors: readonly (readonly [plate: number, frame: number])[]
      readonly quality: readonly (number | null)[]
    }

/** `GET folders?at=PATH`: where plates may be picked from; without `at` the folders that are allowed, as `folders`. */
export interface FolderList {
  /** Absolute; null: the list of allowed folders itself. */
  readonly at: string | null
  /** One folder up, null where that is not allowed. */
  readonly parent: string | null
  readonly folders: readonly { readonly name: string; readonly path: string }[]
  /** What POST `shots` takes as `plate`, and how many frames it has. */
  readonly plates: readonly { readonly name: string; readonly spec: string; readonly frames: number | null }[]
}

/** `GET shots/NAME/searches/search-1/patch?candidate=`: the command that POST would run now, as it can be typed. */
export interface PatchCommand {
  readonly command: string
}

/** Header of every picture: the rectangle of the plate that the picture shows, `x,y,w,h` in plate pixels. */
export const RECT_HEADER = 'Offcut-Rect'

/** Header of a request for a picture that nobody looks at yet: it gives way to those that somebody does. */
export const AHEAD_HEADER = 'Offcut-Ahead'

/** What the page is served with, so that it has something to show before it has asked. */
export interface Begin {
  readonly shots: readonly ShotSummary[]
  /** The shot to begin with; null: the list of them. */
  readonly open: { readonly name: string; readonly opened: OpenedShot } | null
}

/** Id of the element of the page that holds it, as JSON. */
export const BEGIN_ID = 'begin'
