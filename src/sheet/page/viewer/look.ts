// The state of looking closer, and the steps that change it.
import type { Box } from '../../data/page-data.js'
import type { View } from './compose.js'
import { type Extent, middleOf, type Point, within } from './place.js'
import type { ViewerData } from './viewer-data.js'

export const RATES = [6, 12, 24, 25, 30] as const
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
  /** index of the candidate in question, null while none is looked at */
  readonly way: number | null
  /** index of another one shown beside it */
  readonly beside: number | null
  /** of two, whether the candidate in question is the right one */
  readonly right: boolean
  /** index among the frames that the candidate in question has */
  readonly frame: number
  readonly view: View
  readonly wipe: number
  readonly flipped: boolean
  readonly exposure: number
  readonly gamma: number
  readonly gain: number
  /** screen pixels per picture pixel's height; 0 fits the picture into its room */
  readonly zoom: number
  /** the point in the middle of the room, picture pixels' heights from the plate's corner; null: the picture's middle */
  readonly centre: Point | null
  /** all of the frame, not the region with its surround alone */
  readonly whole: boolean
  readonly outlined: boolean
  readonly playing: boolean
  readonly rate: number
  readonly help: boolean
}

export const START: Look = {
  way: null,
  beside: null,
  right: false,
  frame: 0,
  view: 'repaired',
  wipe: 0.5,
  flipped: true,
  exposure: 0,
  gamma: 1,
  gain: 8,
  zoom: 0,
  centre: null,
  whole: false,
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

/** The target frame in view, as an index into the data's targets; undefined while no candidate is looked at. */
export function targetInView({ way, frame }: Look, { ways }: ViewerData): number | undefined {
  return way === null ? undefined : ways[way].frames[frame]?.[0]
}

/** Another candidate's frame for a target; where it has none, the one to look at first. */
export function frameFor({ ways }: ViewerData, way: number, target: number | undefined): number {
  const { frames, start } = ways[way]
  const same = frames.findIndex(([at]) => at === target)
  return same < 0 ? start : same
}

/**
 * Looks at a candidate: the first time at its weakest frame, or where its moment peaks; coming from another candidate
 * on the same target frame, where it has that.
 */
export function atWay(look: Look, data: ViewerData, way: number, view = look.view): Look {
  const frame = frameFor(data, way, targetInView(look, data))
  // Beside itself there is nothing to compare.
  const beside = look.beside === way ? look.way : look.beside
  return { ...look, way, beside, frame, view, playing: look.playing && data.ways[way].frames.length > 1 }
}

/** No candidate is looked at; the display stays as it was set. */
export function closed(look: Look): Look {
  return { ...look, way: null, beside: null, right: false, centre: null, playing: false, help: false }
}

/** Another candidate on the other side, or none any more. */
export function withBeside(look: Look, beside: number | null): Look {
  return { ...look, beside: beside === look.way ? null : beside, right: beside !== null && look.right }
}

/** The other one of the two is in question; both stay where they are. */
export function swapped(look: Look, data: ViewerData): Look {
  if (look.way === null || look.beside === null) return look
  const frame = frameFor(data, look.beside, targetInView(look, data))
  return { ...look, way: look.beside, beside: look.way, right: !look.right, frame }
}

/** Frames on from here, no further than the ends. */
export function atFrame(look: Look, data: ViewerData, frame: number): Look {
  if (look.way === null) return look
  const count = data.ways[look.way].frames.length
  const at = clamp(frame, { least: 0, most: count - 1 })
  return at === look.frame ? look : { ...look, frame: at }
}

/** What is shown of the plate on a target frame, as it is projected. */
export function extentOf({ whole }: Look, data: ViewerData, target: number): Extent {
  if (whole && data.whole) return projected([0, 0, ...data.whole.size], data)
  return projected(data.targets[target].rect, data)
}

/** A box of the pictures where it is seen: their pixels are as wide as the plate's. */
export function projected([x, y, w, h]: Box, { pixelAspect = 1 }: ViewerData): Extent {
  return { x: x * pixelAspect, y, w: w * pixelAspect, h }
}

/** Moves what is in the middle of the room by so many picture pixels. */
export function pannedBy(look: Look, data: ViewerData, by: Point): Look {
  const target = targetInView(look, data)
  if (target === undefined) return look
  const extent = extentOf(look, data, target)
  const { x, y } = look.centre ?? middleOf(extent)
  return { ...look, centre: within(extent, { x: x + by.x, y: y + by.y }) }
}

/** The whole frame, or the region alone, from the beginning: what filled one says nothing in the other. */
export function withWhole(look: Look, whole: boolean): Look {
  return { ...look, whole, zoom: 0, centre: null }
}
