// Picks windows in which the footage itself shows another state than its usual one: light that has changed for a while,
// what a compressed picture kept of somebody who passed. Nobody is in the region, yet most of the plate looks otherwise.
import { grow, type Rect } from '../../src/raster/rect.js'
import { randomFrom, shuffled } from '../random.js'
import type { Disturbance } from './disturbance.js'
import type { Footage } from './footage.js'
import {
  blocksOf,
  type Label,
  labelOf,
  OVERLAP,
  overlap,
  places,
  ROUND,
  WINDOW_FRAMES,
  type Window,
} from './pick-windows.js'

/** Frames in the window's state that must be there besides the window. */
const MIN_SAME = 6
/** A state that more of the frames show is the usual one. */
const MAX_SAME = 0.45
/** Share of the region that is perhaps otherwise than usual; above, somebody casts a shadow. */
const OTHERWISE: readonly [number, number] = [0.04, 0.5]
/** Picked windows of one place are at least this far apart. */
const STEP = 5

/** What is in the region in every frame, against what frame number `index` of the plate shows there. */
export function labelsLike(disturbance: Disturbance, box: Rect, index: number): Label[] {
  const blocks = blocksOf(disturbance, box)
  const like = disturbance.frames[index]
  return disturbance.frames.map((frame) => {
    let surely = 0
    let otherwise = 0
    for (const b of blocks) {
      if (frame[b] === 2) surely++
      else if (frame[b] !== like[b]) otherwise++
    }
    return labelOf(surely / blocks.length, (surely + otherwise) / blocks.length)
  })
}

/** As many windows as asked for, or as many as there are; none where the footage has but one state. */
export function pickStates(
  footage: Footage,
  disturbance: Disturbance,
  { count, seed }: { count: number; seed: string },
): Window[] {
  const all = places(footage).flatMap((box) => windowsAt(footage, disturbance, box))
  const picked: Window[] = []
  for (const next of shuffled(all, randomFrom(`states ${seed}`))) {
    if (picked.length === count) break
    if (!picked.some((p) => overlap(p.box, next.box) > OVERLAP)) picked.push(next)
  }
  return picked
}

function windowsAt({ frames }: Footage, disturbance: Disturbance, box: Rect): Window[] {
  const blocks = blocksOf(disturbance, box)
  const otherwise = disturbance.frames.map((frame) => {
    let perhaps = 0
    let surely = 0
    for (const b of blocks) {
      if (frame[b] === 1) perhaps++
      else if (frame[b] === 2) surely++
    }
    const share = perhaps / blocks.length
    return surely === 0 && share >= OTHERWISE[0] && share <= OTHERWISE[1]
  })
  const out: Window[] = []
  const half = WINDOW_FRAMES >> 1
  for (let start = 0; start + WINDOW_FRAMES <= frames.length; start += STEP) {
    const window = frames.slice(start, start + WINDOW_FRAMES)
    if (window[WINDOW_FRAMES - 1] - window[0] !== WINDOW_FRAMES - 1) continue
    if (!otherwise.slice(start, start + WINDOW_FRAMES).every(Boolean)) continue
    const labels = labelsLike(disturbance, box, start + half)
    const round = labelsLike(disturbance, grow(box, ROUND), start + half)
    if (!round.slice(start, start + WINDOW_FRAMES).every((l) => l === 'empty')) continue
    const same = labels.filter((l) => l === 'empty').length - WINDOW_FRAMES
    if (same < MIN_SAME || same > MAX_SAME * frames.length) continue
    const disturbed = labels.filter((l) => l === 'disturbed').length
    out.push({ box, frames: window, disturbedShare: disturbed / (frames.length - WINDOW_FRAMES) })
  }
  return out
}
