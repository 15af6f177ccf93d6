// The state of looking closer, and the steps that change it.
import type { PageData } from '../data/page-data.js'
import type { View } from './compose.js'

export const RATES = [6, 12, 24, 25, 30] as const
export const ZOOMS = [1, 2, 3, 4, 6, 8, 12, 16] as const
/** Thirds of a stop, as on a lens. */
export const EXPOSURE = { least: -4, most: 4, step: 1 / 3 } as const
export const GAMMA = { least: 0.4, most: 2.6, step: 0.1 } as const
export const GAINS = [1, 2, 4, 8, 16, 32] as const
/** A flip by itself shows each picture this long: two changes a second, where WCAG 2.2 (2.3.1) allows three flashes. */
export const FLIP_MS = 500

export const VIEWS: readonly { view: View; name: string }[] = [
  { view: 'repaired', name: 'Repaired' },
  { view: 'target', name: 'Target' },
  { view: 'wipe', name: 'Wipe' },
  { view: 'flip', name: 'Flip' },
  { view: 'lent', name: 'Donor' },
  { view: 'difference', name: 'Difference' },
]

export interface Look {
  /** index of the candidate, null while the page itself is up */
  readonly way: number | null
  /** index among the frames the candidate carries */
  readonly frame: number
  readonly view: View
  readonly wipe: number
  readonly flipped: boolean
  readonly exposure: number
  readonly gamma: number
  readonly gain: number
  /** picture pixels to screen pixels; 0 fits the picture into the window */
  readonly zoom: number
  readonly outlined: boolean
  readonly playing: boolean
  readonly rate: number
  readonly help: boolean
}

export const START: Look = {
  way: null,
  frame: 0,
  view: 'repaired',
  wipe: 0.5,
  flipped: true,
  exposure: 0,
  gamma: 1,
  gain: 8,
  zoom: 0,
  outlined: false,
  playing: false,
  rate: 24,
  help: false,
}

export function clamp(value: number, { least, most }: { least: number; most: number }): number {
  return Math.min(most, Math.max(least, value))
}

/** The next entry of an ascending list, or its end. */
export function stepped(list: readonly number[], value: number, by: 1 | -1): number {
  const next = by > 0 ? list.find((each) => each > value) : list.findLast((each) => each < value)
  return next ?? value
}

/** Another candidate, on the same target frame where it carries it. */
export function atWay(look: Look, data: PageData, way: number, view = look.view): Look {
  const target = look.way === null ? undefined : data.ways[look.way].frames[look.frame]?.[0]
  const frame = Math.max(
    0,
    data.ways[way].frames.findIndex(([at]) => at === target),
  )
  return { ...look, way, frame, view, playing: look.playing && data.ways[way].frames.length > 1 }
}

/** Frames on from here, round the end when `round` says so. */
export function atFrame(look: Look, data: PageData, frame: number, round = false): Look {
  if (look.way === null) return look
  const count = data.ways[look.way].frames.length
  const at = round ? ((frame % count) + count) % count : clamp(frame, { least: 0, most: count - 1 })
  return at === look.frame ? look : { ...look, frame: at }
}
