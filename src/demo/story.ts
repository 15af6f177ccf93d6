// What happens when, on a quiet day: a story of 160 story frames (24 a second). A plate of other length tells it faster or
// slower.
import { KIOSK, PORTER_SCALE, WALK_SCALE } from './stage.js'
import type { Scene, StoryName } from './truth.js'

/** How long each story lasts, story frames. */
export const STORY_FRAMES: Record<StoryName, number> = { quay: 160, market: 64 }

/** The story's time at the plate's frame number `index`, counted from 0. */
export function timeOf(index: number, { frames, story }: Pick<Scene, 'frames' | 'story'>): number {
  return (index * STORY_FRAMES[story]) / frames
}

/** From here to there, in story frames, both included. */
export interface Stretch {
  readonly from: number
  readonly to: number
}

/** The porter is to be hidden here. */
export const HIDE: Stretch = { from: 74, to: 85 }
/** Where a shadow and a reflection may be borrowed to: nothing passes over wall or shutter then. */
export const QUIET_WALL: Stretch = { from: 22, to: 62 }
export const QUIET_SHUTTER: Stretch = { from: 1, to: 33 }

/** The heron is lowest, and its shadow in the middle of the wall, at this time. */
export const HERON_TIME = 129
/** Somebody in bright oilskins passes on the near side of the basin, mirrored in the shutter, at this time. */
export const MIRRORED_TIME = 138

/** Someone's walk: hip's x in stage units at a time, speed in units per story frame (negative walks left). */
export interface Walk {
  readonly scale: number
  readonly x: number
  readonly at: number
  readonly speed: number
  /** Nothing of them shows outside this stretch. */
  readonly seen: Stretch
}

export function walkX(walk: Walk, time: number): number {
  return walk.x + walk.speed * (time - walk.at)
}

/** The porter comes in from the left and goes out of sight behind the kiosk. */
export const PORTER_WALK: Walk = {
  scale: PORTER_SCALE,
  x: 198,
  at: 79.5,
  speed: 4.9,
  seen: { from: 79.5 - (198 + 185) / 4.9, to: 79.5 + (KIOSK.left + 31 - 198) / 4.9 },
}

/** The others walk close to the wall, each at another time. */
export const PASSERS: readonly Walk[] = [
  // On the way to the kiosk as the plate begins.
  { scale: WALK_SCALE, x: 395, at: 0, speed: 3.5, seen: { from: -20, to: 21 } },
  // Out from behind the kiosk when the porter has gone, and along the wall to the left.
  { scale: WALK_SCALE, x: 445, at: 148, speed: -3.6, seen: { from: 140, to: 240 } },
  // Past the shutter.
  { scale: WALK_SCALE, x: 896, at: 36, speed: -3.5, seen: { from: -20, to: 240 } },
]
