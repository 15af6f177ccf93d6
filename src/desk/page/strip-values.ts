// What the strip's lanes are measured by: light in stops from its usual, movement in pixels of the plate, and both said in words.
import { count } from '../../sheet/data/words.js'
import type { PlateAbout, StripFrame } from '../messages.js'
import { inStops, signedStops } from './light-draw.js'

type Known = ReadonlyMap<number, StripFrame>

/** The least difference of light that fills its lane, stops: less is a plate whose light stands still. */
const MIN_SPAN = 0.25
/** The least movement that fills its lane, px from a frame to the next: less is a camera that stands still. */
const MIN_MOVED_PX = 1

export interface StripAxes {
  /** Light by frame, stops from the plate's usual (its median); null where it can't be read. */
  readonly lights: ReadonlyMap<number, number | null>
  /** What the lower and the upper end of the lane of light stand for, stops; null while no light is known. */
  readonly light: { readonly low: number; readonly high: number } | null
  /** What the upper end of the lane of movement stands for, px from a frame to the next; its lower end is 0. */
  readonly mostPx: number
}

export function axesOf(known: Known): StripAxes {
  const lights = inStops(new Map([...known].map(([frame, { light }]) => [frame, light])))
  let [low, high, mostPx] = [Infinity, -Infinity, MIN_MOVED_PX]
  for (const light of lights.values()) {
    if (light === null) continue
    low = Math.min(low, light)
    high = Math.max(high, light)
  }
  for (const { moved } of known.values()) mostPx = Math.max(mostPx, moved ?? 0)
  if (low > high) return { lights, light: null, mostPx }
  const more = Math.max(0, MIN_SPAN - (high - low)) / 2
  return { lights, light: { low: low - more, high: high + more }, mostPx }
}

/** "0.4", "127": to a tenth of a pixel while that can be told apart. */
export function pxText(px: number): string {
  return px.toFixed(px < 99.95 ? 1 : 0)
}

export interface StripCounts {
  readonly repeated: number
  readonly unreadable: number
  /** Frames of which nothing is known yet. */
  readonly unmeasured: number
}

export function countsOf(known: Known, frames: readonly number[]): StripCounts {
  let [repeated, unreadable] = [0, 0]
  for (const { repeats, message } of known.values()) {
    if (message !== undefined) unreadable++
    else if (repeats !== null) repeated++
  }
  return { repeated, unreadable, unmeasured: frames.filter((frame) => !known.has(frame)).length }
}

/** What the strip tells of one frame: "light +0.12 stops, moved 3.4 px". */
export function frameInWords(known: Known, { lights }: StripAxes, frame: number): string {
  const at = known.get(frame)
  if (at === undefined) return 'not measured yet'
  if (at.message !== undefined) return 'unreadable'
  const light = lights.get(frame) ?? null
  return [
    light === null ? 'light not known' : `light ${signedStops(light)} stops`,
    ...(at.repeats !== null
      ? [`repeats ${at.repeats}`]
      : at.moved !== null
        ? [`moved ${pxText(at.moved)} px`]
        : []),
  ].join(', ')
}

/** The whole strip in words, with the ends of its scales. */
export function stripInWords({ frames, gaps }: Pick<PlateAbout, 'frames' | 'gaps'>, known: Known): string {
  const { light, mostPx } = axesOf(known)
  const { repeated, unreadable, unmeasured } = countsOf(known, frames)
  const plate = [
    `${count(frames.length, 'frame')}, ${frames[0]} to ${frames[frames.length - 1]}`,
    ...(gaps.length > 0 ? [count(gaps.length, 'gap')] : []),
    `${repeated} repeated`,
    `${unreadable} unreadable`,
    ...(unmeasured > 0 ? [`${unmeasured} not measured yet`] : []),
  ].join(', ')
  const scales = [
    ...(light
      ? [`Light is drawn from ${signedStops(light.low)} to ${signedStops(light.high)} stops from its usual`]
      : []),
    `Movement is drawn from 0 to ${pxText(mostPx)} px from a frame to the next`,
  ]
  return [plate, ...scales].map((sentence) => `${sentence}.`).join(' ')
}
