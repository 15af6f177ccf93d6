// The camera of a shot: whether it stands, sways or moves, and where every frame of every plate lies on the reference
// frame's pixels (the common grid).
import type { Plate } from '../../footage/plate.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Model } from '../../match/planar.js'
import { grow, intersect, type Rect } from '../../raster/rect.js'
import {
  apply,
  compose,
  IDENTITY,
  invert,
  isShift,
  shift,
  shiftOf,
  type Transform,
} from '../../raster/transform.js'
import { dilate } from '../../region/region.js'
import type { FrameKey } from '../../shot/frame-key.js'
import { untilAborted } from '../../turns.js'
import { readOneHalf } from '../read-frames.js'
import { CameraFollower, type Followed } from './follow.js'
import { apartOver, RegionFollower, RING_PX, type Rough, shareSeen } from './on-region.js'
import { type SmallFrame, smallFrames } from './small-frame.js'

/** Frames of a plate that are looked at first, spread over it: a locked-off camera is known by them. */
const PROBES = 7
/** They are looked at this small, pixels. */
const PROBE_PX = 256
/** What a probe says beyond a shift must move the region by more than this, pixels of the probe, to be more than its error. */
const PROBE_ERROR_PX = 0.35
/** A plate whose frames lie this near to where they would without a camera's doing, pixels, stands. */
const STANDS_PX = 0.12
/** And as much of it must have been followed for the rest to be taken to stand, too. */
const MOSTLY = 0.7
/** A simpler model will do where it puts nine frames in ten within this of where they lie, pixels over the window. */
const MODEL_PX = 0.06
/** The same over most of a frame, whose corners are known less well. */
const FRAME_MODEL_PX = 0.3
/** Frames on which it is told whether the region's surroundings move as the whole frame does. */
const TOLD_BY = 14
/**
 * They do not where so much more of the ring's correlation is had, on most of these frames, by following the ring alone: on
 * planted cameras that are carried it was 0.04 to 0.4, on those that turn 0.002 and less.
 */
const OWN_WAY = 0.015
/** A whole frame's pose is known to about this, pixels of the picture that it was found on. */
const FRAME_SIGMA = 0.05

export interface CameraPose extends FrameKey {
  /** Takes the frame's pixels to the grid; null where it was not followed. */
  readonly pose: Transform | null
  /** RMS error of places to be expected about the region, pixels; infinite where it was not followed. */
  readonly sigma: number
  /** Its light against the reference frame's over what both see, stops; null where it was not followed. */
  readonly stops: number | null
}

export interface Camera {
  readonly model: Model
  /** Frame of the first plate whose pixels are the common grid. */
  readonly reference: number
  readonly poses: readonly CameraPose[]
  /** What stands round the region moves otherwise than the rest of the frame, so it was followed by itself. */
  readonly byRegion: boolean
  /** Plates that show another place, as indices. */
  readonly elsewhere: readonly number[]
}

export interface CameraRequest {
  readonly plates: readonly Plate[]
  /** Frame of the first plate that all others are laid on. */
  readonly reference: number
  /** What of the reference frame must not be followed, 1 per pixel over its rectangle. */
  readonly hidden: { readonly rect: Rect; readonly bits: Readonly<Uint8Array> }
  /** The region with its surround on the reference frame. */
  readonly window: Rect
  readonly reachPx: number
  /** Places count everywhere, not in the window alone. */
  readonly everywhere?: boolean
  readonly signal?: AbortSignal
}

/** How far the following is: frames of all plates. */
export interface Following {
  readonly done: number
  readonly total: number
}

/** Follows a camera that moves. @returns null where every plate stands or only sways within the reach */
export async function* followCamera(
  workspace: Workspace,
  request: CameraRequest,
): AsyncGenerator<Following, Camera | null> {
  const { plates, reference } = request
  if (!(await moves(workspace, request))) return null
  const [small] = await taken(smallFrames(workspace, plates[0], [reference]), request)
  if (small === undefined) return null
  const counts = countsOf(small, request)
  if (!CameraFollower.canFollow(workspace, small, counts)) return null
  const follower = new CameraFollower(workspace, small, counts)
  const total = plates.reduce((sum, { frames }) => sum + frames.length, 0)
  const followed: Map<number, Followed | null>[] = []
  const elsewhere: number[] = []
  let done = 0
  for (const [index, plate] of plates.entries()) {
    const from =
      index === 0 ? { frame: reference, pose: IDENTITY } : await startOn(workspace, follower, plate, request)
    if (from === null) {
      elsewhere.push(index)
      followed.push(new Map())
      continue
    }
    const found = new Map<number, Followed | null>()
    for await (const [frame, one] of sweep(workspace, follower, plate, from, request)) {
      found.set(frame, one)
      yield { done: ++done, total }
    }
    followed.push(found)
  }
  const rough = followed.map(
    (of) => new Map([...of].flatMap(([f, one]) => (one ? [[f, one.pose] as const] : []))),
  )
  const { poses, byRegion } = request.everywhere
    ? { poses: rough.map((of) => asFound(of, small.toPlate[0])), byRegion: false }
    : await onRegion(workspace, request, rough, small.toPlate[0])
  const still = poses.map((of, i) => settled(of, plates[i].frames, request.window))
  const { model, kept } = simplest(still, request.window, request.everywhere ? FRAME_MODEL_PX : MODEL_PX)
  return {
    model,
    reference,
    byRegion,
    elsewhere,
    poses: plates.flatMap(({ frames }, plate) =>
      frames.map((frame) => {
        const one = kept[plate].get(frame)
        const stops = followed[plate].get(frame)?.stops ?? null
        return one
          ? { plate, frame, ...one, stops }
          : { plate, frame, pose: null, sigma: Number.POSITIVE_INFINITY, stops }
      }),
    ),
  }
}

/** Frames beside the reference frame that tell whether it moves where most of a plate is not recognised. */
const BESIDE = [2, 5, 10, 20]
/** What they show of a camera that moves, at least, pixels. */
const BESIDE_PX = 1

/** True where frames spread over the plates tell of more than a sway, or a plate has other pixels. */
async function moves(workspace: Workspace, request: CameraRequest): Promise<boolean> {
  const { plates, reference, window, reachPx } = request
  const [target] = plates
  if (plates.some((p) => p.width !== target.width || p.height !== target.height)) return true
  const [first] = await taken(smallFrames(workspace, target, [reference], PROBE_PX), request)
  if (first === undefined) return false
  const counts = countsOf(first, request)
  if (!CameraFollower.canFollow(workspace, first, counts)) return false
  const follower = new CameraFollower(workspace, first, counts)
  const least = PROBE_ERROR_PX * first.toPlate[0]
  for (const [index, plate] of plates.entries()) {
    let unknown = 0
    const probes = spread(plate.frames, PROBES).filter((f) => index > 0 || f !== reference)
    for (const small of await taken(smallFrames(workspace, plate, probes, PROBE_PX), request)) {
      const found = follower.simplest(small)
      if (found === null) {
        unknown++
        continue
      }
      const { dx, dy } = shiftOf(found.pose, window)
      // Within the reach it sways, and aligning frame by frame finds that.
      if (Math.hypot(dx, dy) > reachPx) return true
      if (found.model === 'more' && apartOver(found.pose, shift(dx, dy), window) > least) return true
    }
    // A camera that pans far shows nothing of the reference frame soon after; it shows some of it just beside.
    if (index === 0 && unknown > probes.length / 2) {
      const at = plate.frames.indexOf(reference)
      const beside = BESIDE.flatMap((by) => [plate.frames[at - by] ?? [], plate.frames[at + by] ?? []].flat())
      for (const small of await taken(smallFrames(workspace, plate, beside, PROBE_PX), request)) {
        const found = follower.simplest(small)
        if (found !== null && found.model !== 'none' && apartOver(found.pose, IDENTITY, window) > BESIDE_PX)
          return true
      }
    }
    // Another take may lie anywhere.
    if (index > 0 && unknown > probes.length / 2) return true
  }
  return false
}

/** The plate's pose of a frame in its middle, or of one of a few others. */
async function startOn(
  workspace: Workspace,
  follower: CameraFollower,
  plate: Plate,
  request: CameraRequest,
): Promise<{ frame: number; pose: Transform } | null> {
  const [target] = request.plates
  const size = Math.sqrt((target.width * target.height) / (plate.width * plate.height))
  const asIfSame: Transform = [target.width / plate.width, 0, 0, 0, target.height / plate.height, 0, 0, 0, 1]
  const { frames } = plate
  const some = [0.5, 0, 1, 0.25, 0.75].map((at) => frames[Math.round(at * (frames.length - 1))])
  for (const small of await taken(smallFrames(workspace, plate, [...new Set(some)].slice(0, 3)), request)) {
    const near = follower.sweep(asIfSame)(small)
    const pose = near?.pose ?? follower.find(small, size)
    if (pose !== null) return { frame: small.frame, pose }
  }
  return null
}

/** All frames of a plate, from one whose pose is known outwards. */
async function* sweep(
  workspace: Workspace,
  follower: CameraFollower,
  plate: Plate,
  from: { readonly frame: number; readonly pose: Transform },
  { signal }: CameraRequest,
): AsyncGenerator<[frame: number, Followed | null]> {
  const at = plate.frames.indexOf(from.frame)
  for (const frames of [plate.frames.slice(at), plate.frames.slice(0, at).reverse()]) {
    const next = follower.sweep(from.pose)
    for await (const small of untilAborted(smallFrames(workspace, plate, frames), signal))
      yield [small.frame, next(small)]
  }
}

interface Placed {
  readonly pose: Transform
  readonly sigma: number
}

/** Poses as the region's surroundings have them, where these go their own way. */
async function onRegion(
  workspace: Workspace,
  { plates, reference, hidden, window, signal }: CameraRequest,
  rough: readonly ReadonlyMap<number, Transform>[],
  factor: number,
): Promise<{ poses: Map<number, Placed>[]; byRegion: boolean }> {
  const core = intersect(grow(window, RING_PX), plates[0].active)
  const halves = await readOneHalf(plates[0], reference, core)
  const counts = countsOver(core, hidden)
  const ring = new RegionFollower(workspace, halves, core, counts, window, plates[0].clipLevel)
  const seeing = rough.map((of, index) =>
    [...of].flatMap(([frame, pose]): Rough[] =>
      shareSeen(plates[index], pose, window) > 0.9 ? [{ frame, pose }] : [],
    ),
  )
  const gains: number[] = []
  for (const [index, plate] of plates.entries()) {
    const some = spread(
      seeing[index].filter(({ frame }) => index > 0 || frame !== reference),
      TOLD_BY,
    )
    for await (const { roughNcc, refined } of untilAborted(ring.refine(plate, some), signal))
      if (roughNcc !== null && refined !== null) gains.push(refined.ncc - roughNcc)
  }
  gains.sort((a, b) => a - b)
  const byRegion = gains.length > 0 && gains[gains.length >> 1] > OWN_WAY
  const poses: Map<number, Placed>[] = []
  for (const [index, plate] of plates.entries()) {
    if (!byRegion) {
      poses.push(asFound(rough[index], factor))
      continue
    }
    const all = new Map<number, Placed>()
    poses.push(all)
    const some = [...rough[index]].map(([frame, pose]) => ({ frame, pose }))
    for await (const { frame, refined } of untilAborted(ring.refine(plate, some), signal))
      if (refined !== null) all.set(frame, refined)
    if (index === 0) all.set(reference, { pose: IDENTITY, sigma: 0 })
  }
  return { poses, byRegion }
}

/** @param factor plate pixels per pixel of the picture that they were found on */
function asFound(rough: ReadonlyMap<number, Transform>, factor: number): Map<number, Placed> {
  return new Map([...rough].map(([frame, pose]) => [frame, { pose, sigma: FRAME_SIGMA * factor }]))
}

/**
 * A plate that stands is not moved at all, so that nothing of it is resampled; then its few frames that were not followed,
 * as somebody fills them, stand as well.
 */
function settled(
  poses: ReadonlyMap<number, Placed>,
  frames: readonly number[],
  window: Rect,
): Map<number, Placed> {
  const apart = [...poses.values()].map(({ pose }) => apartOver(pose, IDENTITY, window)).sort((a, b) => a - b)
  if (apart.length === 0 || apart[Math.floor(0.9 * (apart.length - 1))] > STANDS_PX) return new Map(poses)
  const all = poses.size >= MOSTLY * frames.length ? frames : [...poses.keys()]
  const { sigma } = [...poses.values()][0]
  return new Map(all.map((frame) => [frame, { sigma, pose: IDENTITY }]))
}

/** The simplest model that puts the frames where they lie; of shifts the poses become shifts. */
function simplest(
  poses: readonly ReadonlyMap<number, Placed>[],
  window: Rect,
  most: number,
): { model: Model; kept: readonly ReadonlyMap<number, Placed>[] } {
  const all = poses.flatMap((of) => [...of.values()])
  const fits = (near: (pose: Transform) => Transform) =>
    all.filter(({ pose }) => apartOver(pose, near(pose), window) <= most).length >= 0.9 * all.length
  const asShift = (pose: Transform): Transform => {
    if (isShift(pose)) return pose
    const { dx, dy } = shiftOf(pose, window)
    return shift(dx, dy)
  }
  if (fits(asShift)) {
    const kept = poses.map(
      (of) => new Map([...of].map(([f, one]) => [f, { ...one, pose: asShift(one.pose) }])),
    )
    return { model: 'shift', kept }
  }
  return { model: fits((pose) => similarityNear(pose, window)) ? 'similarity' : 'homography', kept: poses }
}

/** The similarity that agrees with a transform at the middle of a rectangle, in place, size and turn. */
function similarityNear(pose: Transform, { x, y, w, h }: Rect): Transform {
  const from = apply(invert(pose), x + w / 2, y + h / 2)
  const at = (u: number, v: number) => apply(pose, from.x + u, from.y + v)
  const [right, down, left, up] = [at(1, 0), at(0, 1), at(-1, 0), at(0, -1)]
  const c = (right.x - left.x + down.y - up.y) / 4
  const s = (right.y - left.y - down.x + up.x) / 4
  return compose(shift(x + w / 2, y + h / 2), compose([c, -s, 0, s, c, 0, 0, 0, 1], shift(-from.x, -from.y)))
}

/** 1 on what of a small picture of the reference frame may be followed. */
function countsOf({ picture, known, toPlate }: SmallFrame, { hidden }: CameraRequest): Uint8Array {
  const counts = Uint8Array.from(known)
  const { rect, bits } = hidden
  const back = invert(toPlate)
  for (let y = 0; y < rect.h; y++)
    for (let x = 0; x < rect.w; x++) {
      if (bits[y * rect.w + x] !== 1) continue
      const p = apply(back, rect.x + x, rect.y + y)
      const [u, v] = [Math.round(p.x), Math.round(p.y)]
      if (u >= 0 && v >= 0 && u < picture.width && v < picture.height) counts[v * picture.width + u] = 0
    }
  return counts
}

function countsOver(core: Rect, { rect, bits }: CameraRequest['hidden']): Uint8Array {
  const covered = new Uint8Array(core.w * core.h)
  for (let y = 0; y < rect.h; y++)
    for (let x = 0; x < rect.w; x++) {
      const [u, v] = [rect.x + x - core.x, rect.y + y - core.y]
      if (bits[y * rect.w + x] === 1 && u >= 0 && v >= 0 && u < core.w && v < core.h)
        covered[v * core.w + u] = 1
    }
  return dilate(covered, core.w, core.h, 2).map((c) => 1 - c)
}

/** Even places of a list, its ends among them. */
function spread<T>(of: readonly T[], n: number): T[] {
  if (of.length <= n) return [...of]
  return Array.from({ length: n }, (_, i) => of[Math.round((i * (of.length - 1)) / (n - 1))])
}

async function taken<T>(source: AsyncGenerator<T>, { signal }: CameraRequest): Promise<T[]> {
  const all: T[] = []
  for await (const one of untilAborted(source, signal)) all.push(one)
  return all
}
