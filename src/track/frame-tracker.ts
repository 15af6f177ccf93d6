// What is seen of every frame while it is read: where the camera looks, and for a borrow the light on it. A camera moves
// the whole picture, so its poses are taken from a much wider ring than the surround: there, somebody who walks past is a
// small part of what is seen.

import { createHash } from 'node:crypto'
import { smooth } from '../kernels/pyramid.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
import { INVALID, type LogLuminance, logLuminance, VALID } from '../match/log-luminance.js'
import { heldReference, prepareReference, type Reference } from '../match/reference.js'
import { noiseSigma } from '../match/texture.js'
import { hasByte } from '../raster/has-byte.js'
import { ownPages } from '../raster/own-pages.js'
import { cutPlane, cutSamples } from '../raster/plane.js'
import { grow, intersect, type Rect } from '../raster/rect.js'
import { dilate, GUARD_PX, type RegionFrame, support } from '../region/region.js'
import type { FrameKey } from '../shot/frame-key.js'
import { type ExposureBlocks, exposureBlocks } from './global-exposure.js'
import { dropPlain, type Hold, holdOf } from './hold.js'
import { type Pose, poseOf } from './pose.js'
import { cutHalves } from './rect-cache.js'

/** How far beyond the surround the camera is followed where that holds it, pixels. */
export const CAMERA_PX = 64
/** Pixels beyond the reach that the resampling filter reads. */
export const FILTER_PX = 4

/** What the camera is followed by, and what of a frame must be read for it. */
export interface TrackedRects {
  readonly core: Rect
  readonly rect: Rect
}

/**
 * What of a frame must be read to follow the camera round a window.
 *
 * @param aroundPx how far beyond the window it is followed
 */
export function trackedRects(
  window: Rect,
  reachPx: number,
  full: Rect,
  aroundPx: number = CAMERA_PX,
): TrackedRects {
  const core = intersect(grow(window, aroundPx), full)
  return { core, rect: intersect(grow(core, reachPx + FILTER_PX), full) }
}

/** What is kept of a frame that was seen. */
export interface TrackedFrame extends FrameKey {
  readonly pose: Pose
  /** Its noise on the surround, stops; null where too little of it is seen. */
  readonly noise: number | null
  /** Over the rectangle that is searched. */
  readonly seen: LogLuminance
  /** Where a band is seen, too. */
  readonly lit?: {
    readonly band: ExposureBlocks
    /** Linear RGB over the rectangle that is searched, as halves. */
    readonly rgb: Uint16Array
  }
  /** Where prints are asked for: alike for frames whose every sample is. */
  readonly print?: string
}

/** All that a tracker is made from: plain data, so that it can be sent to another thread. */
export interface TrackerSetup {
  /** The reference frame, linear RGB over what is read, as halves. */
  readonly reference: Uint16Array
  /** From `trackedRects`. */
  readonly rects: TrackedRects
  /** From `bandRect`, round `rects.rect`: what is read where the light of a band is to be seen, and colours kept. */
  readonly band?: Rect
  /** The part of `rects.rect` that is searched. */
  readonly keep: Rect
  readonly window: Rect
  /** The reference frame's, over `window`: what it hides is left out. */
  readonly mask: RegionFrame
  readonly reachPx: number
  /** Per plate, linear light from which a channel counts as clipped. */
  readonly clip: readonly number[]
  /** Tell a picture by a print of its samples: frames that repeat another have the same. */
  readonly print?: boolean
}

/** Follows the camera against one frame, the reference frame. */
export class FrameTracker {
  /** What must be read of every frame. */
  readonly rect: Rect
  readonly #band: Rect | undefined
  readonly #followed: Rect
  readonly #keep: Rect
  readonly #surround: Readonly<Float32Array>
  readonly #reference: Reference
  readonly #clip: readonly number[]
  readonly #reachPx: number
  readonly #print: boolean

  constructor(
    readonly workspace: Workspace,
    setup: TrackerSetup,
  ) {
    const { rects, band, keep, window, mask, reachPx, clip, print = false } = setup
    this.rect = band ?? rects.rect
    this.#band = band
    this.#followed = rects.rect
    this.#keep = keep
    this.#surround = spreadOut(mask.surround, window, keep)
    this.#clip = clip
    this.#reachPx = reachPx
    this.#print = print
    // As long as the workspace is there: every frame is held against it.
    this.#reference = heldReference(workspace.hold(), referenceOf(workspace, setup).reference)
  }

  /** Room for what is kept of a frame. */
  room(): KeptSamples {
    return roomFor(this.#keep, this.#band !== undefined)
  }

  /**
   * @param linear RGB over `rect`, as halves
   * @param kept   where what is kept of it lies, for as long as it is not used for another frame
   */
  see(key: FrameKey, linear: Uint16Array, kept = this.room()): TrackedFrame {
    return this.workspace.within((scratch) => this.#see(scratch, key, linear, kept))
  }

  #see(scratch: Scratch, key: FrameKey, linear: Uint16Array, kept: KeptSamples): TrackedFrame {
    const { workspace } = this
    const followed = this.#followed
    const { x, y, w, h } = followed
    const clip = this.#clip[key.plate]
    // Only what is kept is copied out of the workspace.
    const into = {
      log: { x, y, width: w, height: h, data: scratch.floats(w * h) },
      validity: scratch.bytes(w * h),
    }
    const rgb = this.#band ? cutHalves(linear, this.#band, followed) : linear
    const { log, validity } = logLuminance(workspace, rgb, followed, clip, into)
    const low = smooth(workspace, log, scratch.floats(w * h))
    const pose = poseOf(workspace, this.#reference, log, low, this.#reachPx, holesOf(validity, w, h))
    const seen = cut({ log, validity }, this.#keep, kept)
    const noise = noiseSigma(workspace, seen.log.data, this.#keep.w, this.#surround)
    const print = this.#print ? { print: createHash('sha1').update(linear).digest('base64') } : {}
    if (!this.#band) return { ...key, pose, noise, seen, ...print }
    const band = exposureBlocks(linear, this.#band, clip)
    return {
      ...key,
      pose,
      noise,
      seen,
      ...print,
      lit: { band, rgb: cutHalves(linear, this.#band, this.#keep, kept.rgb) },
    }
  }
}

/** The picture that frames are aligned to, and how firmly it will hold them. */
export function referenceOf(
  workspace: Workspace,
  { reference, rects, band, window, mask, reachPx, clip }: TrackerSetup,
): { reference: Reference; hold: Hold } {
  const { core, rect } = rects
  const rgb = band ? cutHalves(reference, band, rect) : reference
  const seen = logLuminance(workspace, rgb, rect, clip[0])
  const picture = cutPlane(seen.log, core)
  const weight = weightOf(seen, core, window, mask.inside)
  const noise = noiseSigma(workspace, picture.data, core.w, weight)
  const usual = grow(window, CAMERA_PX)
  if (noise !== null && core.w * core.h > usual.w * usual.h) dropPlain(picture, weight, noise)
  const prepared = prepareReference(workspace, picture, weight, reachPx)
  return { reference: prepared, hold: holdOf(prepared, noise) }
}

/** What is kept of a frame. */
export interface KeptSamples {
  readonly log: Float32Array
  readonly validity: Uint8Array
  readonly rgb: Uint16Array
}

/** All of it in one piece of memory, which goes back when the frame goes. */
function roomFor({ w, h }: Rect, lit: boolean): KeptSamples {
  const pixels = w * h
  const samples = lit ? 3 * pixels : 0
  const memory = ownPages(4 * pixels + 2 * samples + pixels)
  return {
    log: new Float32Array(memory, 0, pixels),
    rgb: new Uint16Array(memory, 4 * pixels, samples),
    validity: new Uint8Array(memory, 4 * pixels + 2 * samples, pixels),
  }
}

function cut({ log, validity }: LogLuminance, rect: Rect, into: KeptSamples): LogLuminance {
  const whole = { x: log.x, y: log.y, w: log.width, h: log.height }
  const data = cutSamples(log.data, whole, rect, 1, into.log)
  return {
    log: { x: rect.x, y: rect.y, width: rect.w, height: rect.h, data },
    validity: cutSamples(validity, whole, rect, 1, into.validity),
  }
}

/** Weights over the window as weights over a rectangle that holds it. */
function spreadOut(weight: Readonly<Float32Array>, window: Rect, rect: Rect): Float32Array {
  const out = new Float32Array(rect.w * rect.h)
  for (let y = 0; y < window.h; y++) {
    const to = (y + window.y - rect.y) * rect.w + window.x - rect.x
    out.set(weight.subarray(y * window.w, (y + 1) * window.w), to)
  }
  return out
}

/** 1 in holes and as far round them as filters carry what was filled in there; null where there are none. */
function holesOf(validity: Readonly<Uint8Array>, width: number, height: number): Uint8Array | null {
  if (!hasByte(validity, INVALID)) return null
  const holes = Uint8Array.from(validity, (t) => (t === INVALID ? 1 : 0))
  return dilate(holes, width, height, FILTER_PX)
}

/** 1 on good pixels of the core outside the mask, else 0. */
function weightOf(
  seen: LogLuminance,
  core: Rect,
  window: Rect,
  inside: Readonly<Float32Array>,
): Float32Array {
  const covered = dilate(support(inside), window.w, window.h, GUARD_PX)
  const weight = new Float32Array(core.w * core.h)
  const { width, height } = seen.log
  const holes = holesOf(seen.validity, width, height)
  for (let y = 0, i = 0; y < core.h; y++) {
    let at = (y + core.y - seen.log.y) * width + core.x - seen.log.x
    for (let x = 0; x < core.w; x++, i++, at++)
      weight[i] = seen.validity[at] === VALID && holes?.[at] !== 1 ? 1 : 0
  }
  for (let y = 0, i = 0; y < window.h; y++) {
    let at = (y + window.y - core.y) * core.w + window.x - core.x
    for (let x = 0; x < window.w; x++, i++, at++) if (covered[i] === 1) weight[at] = 0
  }
  return weight
}
