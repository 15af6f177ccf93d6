// Every frame of a search on one common grid: its pose, its light, its log luminance moved onto the reference, and what
// of it can be valid. Frames are aligned to one picture, not to each other: with N frames that is N alignments for
// N * N pairs, and since the picture is made from many frames its noise no longer limits the offsets.

import { resample } from '../kernels/resample.js'
import { sortSamples } from '../kernels/sort.js'
import type { Workspace } from '../kernels/workspace.js'
import { agreeingGroup, mean } from '../match/agreeing-group.js'
import { HELD_SIGMA } from '../match/align.js'
import { type CleanPlate, cleanPlateSteps } from '../match/clean-plate.js'
import { INVALID, type LogLuminance, VALID } from '../match/log-luminance.js'
import { select } from '../match/selection.js'
import { evenly, indicesOf, subsample } from '../match/subsample.js'
import { CUBIC } from '../raster/filters.js'
import { hasByte } from '../raster/has-byte.js'
import { cutPlane } from '../raster/plane.js'
import type { Rect } from '../raster/rect.js'
import { type Marks, moveMarks } from '../raster/resample.js'
import {
  compose,
  IDENTITY,
  invert,
  isWhole,
  type Offset,
  shiftOf,
  type Transform,
} from '../raster/transform.js'
import { dilate } from '../region/region.js'
import type { FrameKey } from '../shot/frame-key.js'
import type { TrackedFrame } from '../track/frame-tracker.js'
import { isLocked } from '../track/pose.js'
import type { Steps } from '../turns.js'
import { isLostAtRest } from './at-rest.js'

export interface Registered extends FrameKey {
  /** Puts the frame on the common grid. */
  readonly pose: Transform
  /** log2 luminance over the window, moved by the pose. */
  readonly aligned: Float32Array
  /** INVALID, VALID or CLIPPED over the window. */
  readonly validity: Uint8Array
  /** Of a frame whose region must not be looked at, `validity` as it is without that. */
  readonly shown?: Uint8Array
  /** Stops to add for the light of the clean plate, from the surround. */
  exposure: number
  /** False where alignment found nothing to hold on to within the reach. */
  readonly held: boolean
  /** Where a camera that moves was followed before: how far off alignment still sees the frame, as it was left; pixels. */
  readonly leftOver?: Offset
}

export interface Registration {
  readonly window: Rect
  readonly frames: readonly Registered[]
  readonly cleanPlate: CleanPlate
  /** A codec carries much of the picture over from frame to frame: frames of one time agree closer than grain would have them. */
  readonly carried: boolean
  /** True where the camera does not move at all: every pose is 0 and nothing is resampled. */
  readonly locked: boolean
  /** What `locked` rests on: poses that were seen, or nothing at all in the frame that would tell. */
  readonly camera: 'locked' | 'moves' | 'unknown'
  /** The target's camera moves, and was followed already: its frames are laid on a common grid. */
  readonly followed: boolean
  /** Frames in the state that the target is in, where most of the plate is in another; absent: all. */
  readonly inState?: ReadonlySet<Registered>
  /** Standard deviation below which frames are not told apart, stops: `minSpread` at the surround's own level. */
  readonly minSpread: number
}

/** Most frames that the clean plate is made from, spread evenly: more make it no better and cost time. */
export const EMPTY_FRAMES = 160
/** Pixels of the surround that a frame's light is taken from: a tenth of a per cent under any grain. */
const LIGHT_PIXELS = 6000
/** Light by the middle half and by the largest agreeing group may lie this far apart, stops, before the group is believed. */
const CROWDED_STOPS = 0.03
/** Fewer pixels than this are no group. */
const MIN_GROUP = 32

/** Nothing moves a donor whose camera is not known. */
const UNKNOWN_CAMERA = 'nothing in the frame tells whether the camera moved, so no donor is moved'

/** What is said of a camera that is not known: why nothing holds up without a look, or that it need not. */
export interface CameraDoubt {
  readonly doubt: string | null
  readonly note: string | null
}

/** @param taught frames that lie likewise have told what the region comes to, and what a camera that moved has cost is in it */
export function cameraDoubt({ camera }: Pick<Registration, 'camera'>, taught: boolean): CameraDoubt {
  if (camera !== 'unknown') return { doubt: null, note: null }
  return taught
    ? {
        doubt: null,
        note: `${UNKNOWN_CAMERA}: what is expected of them was learnt from others that lie likewise`,
      }
    : { doubt: `${UNKNOWN_CAMERA}: look for a step along the edge of the region`, note: null }
}

/**
 * From this share on neighbouring frames are alike because they were coded so. What a codec leaves as it is comes to 0.4 to 0.99 of
 * the surround, grain in 8 bits that was never coded to 0.02, that of a plain sky to 0.29.
 */
const CARRIED_SHARE = 0.4
/** Pairs of neighbouring frames that tell of it. */
const CARRIED_PAIRS = 32

/** What frames are registered on, and by. */
export interface Grid {
  readonly window: Rect
  /** 1 on the surround, over the window. */
  readonly surround: Readonly<Float32Array>
  /** The frame whose light is the first measure of the others', a target frame. */
  readonly reference: FrameKey
  /** Pixels over the window that must not be looked at on a frame: the region of the target's; null: none. */
  readonly hidden: (key: FrameKey) => Readonly<Float32Array> | null
  /** `minSpread` of the reference frame's plate, stops. */
  readonly minSpreadAt: (log2Level: number) => number
  /** False where nothing in the frames would tell that the camera moved: then none is moved. */
  readonly mayHold: boolean
  /** Plates whose camera was followed already: what is left of a frame's offset is its own. Absent: none. */
  readonly laid?: ReadonlySet<number>
}

/** How much is looked at: what is left out counts as all that makes a difference. */
export interface RegisterEffort {
  /** Most pixels of the surround that a frame's light is taken from. */
  readonly lightPixels?: number
  /** Most frames that the clean plate is made from. */
  readonly emptyFrames?: number
}

type Posed = Pick<Registered, 'pose'>

/** Lays a donor on a target. */
export function between(target: Posed, donor: Posed): Transform {
  return compose(invert(target.pose), donor.pose)
}

/** The 2D offset that lays a donor on a target, over a rectangle of it. */
export function offsetBetween(target: Posed, donor: Posed, window: Rect): Offset {
  return shiftOf(between(target, donor), window)
}

/** @param seen in order, over the window grown by the reach; their pictures are written over */
export function* register(
  workspace: Workspace,
  seen: readonly TrackedFrame[],
  { window, surround, reference, hidden, minSpreadAt, mayHold, laid = new Set() }: Grid,
  { lightPixels = LIGHT_PIXELS, emptyFrames = EMPTY_FRAMES }: RegisterEffort = {},
): Steps<Registration> {
  const first = seen.find((f) => f.plate === reference.plate && f.frame === reference.frame) ?? seen[0]
  const light = cutPlane(first.seen.log, window).data
  const holds = mayHold && !(yield* isLostAtRest(seen, { light, grain: first.noise }, window, surround))
  // Of several plates one may be locked off and another a take from a little further left.
  const lockedPlates = new Set<number>()
  for (const plate of new Set(seen.map((f) => f.plate))) {
    const poses = seen.flatMap((f) => (f.plate === plate ? [f.pose] : []))
    if (!holds || isLocked(poses, window)) lockedPlates.add(plate)
  }
  const locked = seen.every((f) => lockedPlates.has(f.plate))
  const camera = !holds ? 'unknown' : locked ? 'locked' : 'moves'
  const frames: Registered[] = []
  for (const f of seen) {
    const still = lockedPlates.has(f.plate) && !(laid.has(f.plate) && isLeftOver(f.pose, window))
    const held = !holds || f.pose.sigma <= HELD_SIGMA || (still && f.pose.still)
    const one = placed(workspace, f, { still, held }, window, hidden(f))
    const seenOff = laid.has(f.plate) && still && f.pose.sigma <= HELD_SIGMA
    frames.push(seenOff ? { ...one, leftOver: shiftOf(f.pose.transform, window) } : one)
    yield
  }
  // All that the clean plate is made from; it is what the others' light is then taken from.
  const shared = subsample(yield* distinct(frames), emptyFrames)
  yield* matchLight(workspace, shared, light, surround, lightPixels)
  const minSpread = minSpreadAt(medianOn(light, surround))
  const carried = yield* isCarriedOver(frames, surround)
  const cleanPlate = yield* cleanPlateSteps(workspace, shared, surround.length, minSpread, carried)
  yield* matchLight(workspace, frames, cleanPlate.level, surround, lightPixels)
  return { window, frames, cleanPlate, carried, locked, camera, followed: laid.has(0), minSpread }
}

/** What is left of a frame's offset after its camera was followed, pixels, before it is more than the aligner's noise. */
const LEFT_OVER_PX = 0.2

function isLeftOver({ earns, sigma, transform }: TrackedFrame['pose'], window: Rect): boolean {
  const { dx, dy } = shiftOf(transform, window)
  return earns && sigma <= HELD_SIGMA && Math.hypot(dx, dy) > LEFT_OVER_PX
}

/** Frames without those that repeat the one before: a held frame is one witness, however long it is held. */
function* distinct(frames: readonly Registered[]): Steps<Registered[]> {
  const found: Registered[] = []
  for (const [i, f] of frames.entries()) {
    yield
    const before = frames[i - 1]
    if (before === undefined || before.plate !== f.plate || !same(before.aligned, f.aligned)) found.push(f)
  }
  return found
}

function same(a: Readonly<Float32Array>, b: Readonly<Float32Array>): boolean {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false
  return true
}

/** Of pairs of neighbouring frames that are not the same picture, does the middle one share enough of the surround to the last bit? */
function* isCarriedOver(frames: readonly Registered[], surround: Readonly<Float32Array>): Steps<boolean> {
  const ring = evenly(indicesOf(surround), LIGHT_PIXELS)
  const pairs = frames.flatMap((b, i) => {
    const a = frames[i - 1]
    return a !== undefined && a.plate === b.plate && a.frame + 1 === b.frame ? [[a, b] as const] : []
  })
  const shares: number[] = []
  for (const [a, b] of subsample(pairs, CARRIED_PAIRS)) {
    yield
    const share = sharedBy(a, b, ring)
    if (share < 1) shares.push(share)
  }
  return shares.length > 0 && select(Float32Array.from(shares), shares.length >> 1) >= CARRIED_SHARE
}

/** Share of the places at which both show the very same. */
function sharedBy(a: Registered, b: Registered, places: Readonly<Int32Array>): number {
  let equal = 0
  let seen = 0
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    if (a.validity[i] !== VALID || b.validity[i] !== VALID) continue
    seen++
    if (a.aligned[i] === b.aligned[i]) equal++
  }
  return seen > 0 ? equal / seen : 1
}

function medianOn(values: Readonly<Float32Array>, weight: Readonly<Float32Array>): number {
  const some = values.filter((_, i) => weight[i] > 0)
  return some.length > 0 ? select(some, some.length >> 1) : 0
}

/**
 * Moves a frame onto the common grid, within its picture's own samples: of a long plate a second set of them would double
 * the memory.
 *
 * @param how.still it is not moved, whatever its pose
 * @param how.held  it is known where it belongs
 * @param region pixels of the window that must not be looked at
 */
function placed(
  workspace: Workspace,
  { plate, frame, seen, pose }: TrackedFrame,
  { still, held }: { readonly still: boolean; readonly held: boolean },
  window: Rect,
  region: Readonly<Float32Array> | null,
): Registered {
  const size = window.w * window.h
  const data = seen.log.data.subarray(0, size)
  // Down is done after all of across, so the samples that are read are not yet written over.
  const transform = still ? IDENTITY : pose.transform
  const { x, y, w, h } = window
  resample(workspace, seen.log, transform, { x, y, width: w, height: h, data }, CUBIC)
  const validity = seen.validity.subarray(0, size)
  workspace.within((scratch) => {
    const source = withFilterRoom(seen, transform, scratch.bytes(seen.validity.length))
    validity.fill(INVALID)
    moveMarks(source, transform, { rect: window, data: validity })
  })
  const shown = region ? { shown: validity.slice() } : {}
  if (region) for (let i = 0; i < validity.length; i++) if (region[i] > 0) validity[i] = INVALID
  return {
    plate,
    frame,
    pose: transform,
    aligned: data,
    validity,
    ...shown,
    exposure: 0,
    held,
  }
}

/** A frame's validity, holes grown by what the resampling filter would carry out of them. @param data receives it */
function withFilterRoom({ log, validity }: LogLuminance, transform: Transform, data: Uint8Array): Marks {
  const rect = { x: log.x, y: log.y, w: log.width, h: log.height }
  const out = { rect, data }
  data.set(validity)
  if (isWhole(transform) || !hasByte(validity, INVALID)) return out
  const holes = Uint8Array.from(validity, (t) => (t === INVALID ? 1 : 0))
  const near = dilate(holes, log.width, log.height, CUBIC.radius)
  for (let i = 0; i < near.length; i++) if (near[i] === 1) out.data[i] = INVALID
  return out
}

/**
 * Sets each frame's light from the difference to `level` over the surround's valid pixels: the mean of its middle half,
 * unless the largest group of pixels that agree says otherwise. Then more than half of the surround is crowded.
 */
export function* matchLight(
  workspace: Workspace,
  frames: readonly Registered[],
  level: Readonly<Float32Array>,
  surround: Readonly<Float32Array>,
  most: number = LIGHT_PIXELS,
): Steps<void> {
  const ring = evenly(indicesOf(surround), most)
  for (const f of frames) {
    yield
    workspace.within((scratch) => {
      const differences = scratch.floats(ring.length)
      const sorted = differences.subarray(0, differencesTo(level, f, ring, differences))
      sortSamples(workspace, sorted)
      f.exposure = lightOf(sorted)
    })
  }
}

/** @param sorted differences, ascending */
function lightOf(sorted: Readonly<Float32Array>): number {
  const n = sorted.length
  const outer = n >> 2
  const middle = n > 0 ? mean(sorted, outer, n - outer) : 0
  if (n < MIN_GROUP) return middle
  const bounds = new Int32Array(2)
  agreeingGroup(sorted, bounds)
  const agreed = mean(sorted, bounds[0], bounds[1])
  return Math.abs(agreed - middle) > CROWDED_STOPS ? agreed : middle
}

/** What lacks to `level` at the places that a frame shows, in their order. @returns how many they are */
function differencesTo(
  level: Readonly<Float32Array>,
  { aligned, validity }: Pick<Registered, 'aligned' | 'validity'>,
  places: Readonly<Int32Array>,
  out: Float32Array,
): number {
  let n = 0
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    if (validity[i] === VALID) out[n++] = level[i] - aligned[i]
  }
  return n
}
