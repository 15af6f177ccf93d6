// Where the camera looks, frame by frame, seen while the frames are read. A camera moves the whole picture, so its poses
// are taken from a much wider ring than the surround: there, somebody who walks past is a small part of what is seen.
import { type Alignment, align, HELD_SIGMA, prepareReference, type Reference } from '../match/align.js'
import { GOOD, type Working, working } from '../match/working.js'
import { smooth } from '../raster/pyramid.js'
import { grow, intersect, type Rect } from '../raster/rect.js'
import { type Plane, plane, shiftPlane } from '../raster/shift.js'
import { dilate } from '../region/region.js'
import { poseEarns } from './locked.js'
import { type FrameKey, type Glance, keyOf } from './store.js'

/** How far beyond the surround the camera is followed, pixels. */
const CAMERA_PX = 64
/** Pixels beyond the reach that resampling reads. */
const FILTER_PX = 4
/** Pixels round the mask that are left out with it. */
const GUARD_PX = 2

export interface Pose extends Alignment {
  /** Moving by it explains the picture clearly better than standing still. */
  readonly earns: boolean
}

/** What of a frame must be read to follow the camera round a window. */
export function cameraRect(window: Rect, reachPx: number, full: Rect): { core: Rect; rect: Rect } {
  const core = intersect(grow(window, CAMERA_PX), full)
  return { core, rect: intersect(grow(core, reachPx + FILTER_PX), full) }
}

/** Follows the camera against one frame, the anchor. Give it to `readStore` as its glance. */
export class Camera implements Glance {
  readonly rect: Rect
  readonly poses = new Map<string, Pose>()
  readonly #reference: Reference
  readonly #clip: readonly number[]
  readonly #reachPx: number
  /** Written over for every frame that is seen. */
  readonly #seen: Working
  readonly #low: Plane

  /**
   * @param anchor linear RGB over `rects.rect`, as halves
   * @param inside the anchor's mask over `window`, 0 to 1: what it hides is left out
   * @param clip   per plate, linear light from which a channel counts as clipped
   */
  constructor(
    anchor: Readonly<Uint16Array>,
    rects: { readonly core: Rect; readonly rect: Rect },
    window: Rect,
    inside: Readonly<Float32Array>,
    { reachPx, clip }: { reachPx: number; clip: readonly number[] },
  ) {
    const { core, rect } = rects
    this.rect = rect
    this.#clip = clip
    this.#reachPx = reachPx
    const seen = working(anchor, rect, clip[0])
    const picture = plane(core.x, core.y, core.w, core.h)
    shiftPlane(seen.log, 0, 0, picture)
    this.#reference = prepareReference(picture, weightOf(seen, core, window, inside), reachPx)
    this.#seen = seen
    this.#low = plane(rect.x, rect.y, rect.w, rect.h)
  }

  see(key: FrameKey, linear: Readonly<Uint16Array>): void {
    const { log } = working(linear, this.rect, this.#clip[key.plate], this.#seen)
    const low = smooth(log, this.#low.data, this.#reference.scratch)
    const found = align(this.#reference, log, this.#reachPx, { low })
    const pose = found ?? { dx: 0, dy: 0, sigma: Number.POSITIVE_INFINITY }
    const earns = pose.sigma <= HELD_SIGMA && poseEarns(this.#reference, low, pose)
    this.poses.set(keyOf(key), { ...pose, earns })
  }
}

/** 1 on good pixels of the core outside the mask, else 0. */
function weightOf(seen: Working, core: Rect, window: Rect, inside: Readonly<Float32Array>): Float32Array {
  const covered = dilate(
    Uint8Array.from(inside, (v) => (v > 0 ? 1 : 0)),
    window.w,
    window.h,
    GUARD_PX,
  )
  const weight = new Float32Array(core.w * core.h)
  for (let y = 0, i = 0; y < core.h; y++) {
    let at = (y + core.y - seen.log.y) * seen.log.width + core.x - seen.log.x
    for (let x = 0; x < core.w; x++, i++, at++) weight[i] = seen.trust[at] === GOOD ? 1 : 0
  }
  for (let y = 0, i = 0; y < window.h; y++) {
    let at = (y + window.y - core.y) * core.w + window.x - core.x
    for (let x = 0; x < window.w; x++, i++, at++) if (covered[i] === 1) weight[at] = 0
  }
  return weight
}
