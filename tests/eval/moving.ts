// A case of a camera that moves or of another take: its plate, its region and who stands there when.

import type { Rect } from '../../src/raster/rect.js'
import { apply } from '../../src/raster/transform.js'
import { randomFrom } from '../random.js'
import { type Case, middleOf } from './case.js'
import type { Disturbance } from './disturbance.js'
import type { Footage } from './footage.js'
import { type Label, labelPlaces, type Window } from './pick-windows.js'
import { sees } from './places.js'
import { inRegion } from './region.js'
import { type Moving, type Size, viewsOf } from './views.js'

/** Share of the footage that a frame shows, so that a camera has room to move; and no more pixels than this. */
const SHOWN = { width: 5 / 8, height: 2 / 3 }
const LARGEST = { width: 480, height: 360 }
/** Below the region, footage pixels: where the near layer begins. */
const NEAR_FROM = 32

export interface Layers {
  /** Footage row from which on downwards everything is near. */
  readonly nearFrom: number
}

export function describeMoving(
  footage: Footage,
  disturbance: Disturbance,
  window: Window,
  { variant, number, seed }: { variant: Moving; number: number; seed: string },
): Case {
  const { frames } = footage
  const random = randomFrom(`moving ${variant} ${seed} ${number}`)
  const size = sizeOf(footage)
  const { motion, take } = viewsOf(variant, footage, size, window, random)
  const middle = middleOf(window)
  const pose = motion[frames.indexOf(middle)].pose!
  // Drawn on the middle target frame, on whole pixels, where the picked place lies there.
  const centre = apply(pose, window.box.x + (window.box.w - 1) / 2, window.box.y + (window.box.h - 1) / 2)
  const box: Rect = {
    ...window.box,
    x: Math.round(centre.x - (window.box.w - 1) / 2),
    y: Math.round(centre.y - (window.box.h - 1) / 2),
  }
  const inside = (x: number, y: number) => {
    const at = apply(pose, x, y)
    return inRegion(box, at.x - box.x, at.y - box.y)
  }
  const common = {
    id: `${variant}-${number}`,
    variant,
    window,
    crop: { x: 0, y: 0, w: size.width, h: size.height },
    box,
    frames,
    motion,
    ...(variant === 'handheld' ? { layers: { nearFrom: window.box.y + window.box.h + NEAR_FROM } } : {}),
    ...(take === undefined ? {} : { take }),
  }
  const seen: Case = { ...common, labels: [] }
  const labels = labelPlaces(disturbance, inside).map((label, i): Label => {
    // Who does not see the region can't lend it, and in the first take somebody stands there all the time.
    const lends = sees(seen, frames[i]) && (take === undefined || take.frames.includes(frames[i]))
    return lends ? label : 'disturbed'
  })
  return { ...common, labels }
}

function sizeOf({ width, height }: Footage): Size {
  const even = (px: number) => 2 * Math.floor(px / 2)
  return {
    width: even(Math.min(LARGEST.width, width * SHOWN.width)),
    height: even(Math.min(LARGEST.height, height * SHOWN.height)),
  }
}
