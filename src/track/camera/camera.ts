// The camera of a shot: whether it stands, sways or moves, and where every frame of every plate lies on the reference
// frame's pixels (the common grid).
import type { Plate } from '../../footage/plate.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Model } from '../../match/planar-step.js'
import { subsampleToEnds } from '../../match/subsample.js'
import { grow, intersect, type Rect } from '../../raster/rect.js'
import { IDENTITY, type Transform } from '../../raster/transform.js'
import { dilate } from '../../region/region.js'
import type { FrameKey } from '../../shot/frame-key.js'
import { untilAborted } from '../../turns.js'
import { readOneHalf } from '../read-frames.js'
import { FRAME_MODEL_PX, MODEL_PX, type Placed, settled, simplest } from './camera-model.js'
import { CameraFollower, type Followed } from './follow.js'
import { RegionFollower, RING_PX, type Rough, shareSeen } from './on-region.js'
import { type CameraRequest, countsOf, moves, taken } from './probe.js'
import { smallFrames } from './small-frame.js'
import { standsRound } from './stands-round.js'

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
}

/** What is told of a shot's cameras. */
export interface FollowedCamera {
  /** Null where every plate that shows the place stands or only sways within the reach. */
  readonly camera: Camera | null
  /** Plates that show another place, as indices. */
  readonly elsewhere: readonly number[]
}

const STANDS: FollowedCamera = { camera: null, elsewhere: [] }

/** How far the following is: frames of all plates. */
export interface Following {
  readonly done: number
  readonly total: number
}

/** Follows a camera that moves. */
export async function* followCamera(
  workspace: Workspace,
  request: CameraRequest,
): AsyncGenerator<Following, FollowedCamera> {
  const { plates, reference } = request
  if (!(await moves(workspace, request))) return STANDS
  const [small] = await taken(smallFrames(workspace, plates[0], [reference]), request)
  if (small === undefined) return STANDS
  const follower = CameraFollower.on(workspace, small, countsOf(small, request))
  if (follower === null) return STANDS
  const starts: (Start | null)[] = []
  for (const [index, plate] of plates.entries())
    starts.push(
      index === 0 ? { frame: reference, pose: IDENTITY } : await startOn(workspace, follower, plate, request),
    )
  const elsewhere = [...starts.keys()].filter((index) => starts[index] === null)
  const [first, ...others] = plates
  const here: CameraRequest['plates'] = [first, ...others.filter((_, k) => starts[k + 1] !== null)]
  // What shows another place tells nothing of a camera.
  if (elsewhere.length > 0 && !(await moves(workspace, { ...request, plates: here })))
    return { camera: null, elsewhere }
  const total = here.reduce((sum, { frames }) => sum + frames.length, 0)
  const followed: Map<number, Followed | null>[] = []
  let done = 0
  for (const [index, plate] of plates.entries()) {
    const found = new Map<number, Followed | null>()
    const from = starts[index]
    if (from === null) {
      followed.push(found)
      continue
    }
    for await (const [frame, one] of sweep(workspace, follower, plate, from, request)) {
      found.set(frame, one)
      yield { done: ++done, total }
    }
    followed.push(found)
  }
  const rough = followed.map(
    (of) => new Map([...of].flatMap(([f, one]) => (one ? [[f, one.pose] as const] : []))),
  )
  let poses: readonly ReadonlyMap<number, Placed>[]
  if (request.everywhere) poses = rough.map((of) => asFound(of, small.toPlate[0]))
  else {
    const ring = await regionFollower(workspace, request)
    if (
      await allStand(
        { ...request, plates: here },
        ring,
        rough.filter((_, k) => starts[k] !== null),
      )
    )
      return { camera: null, elsewhere }
    poses = await onRegion(request, ring, rough, small.toPlate[0])
  }
  const still = poses.map((of, i) => settled(of, plates[i].frames, request.window))
  const { model, kept } = simplest(still, request.window, request.everywhere ? FRAME_MODEL_PX : MODEL_PX)
  const placed = plates.flatMap(({ frames }, plate) =>
    frames.map((frame) => {
      const one = kept[plate].get(frame)
      const stops = followed[plate].get(frame)?.stops ?? null
      return one
        ? { plate, frame, ...one, stops }
        : { plate, frame, pose: null, sigma: Number.POSITIVE_INFINITY, stops }
    }),
  )
  return { camera: { model, reference, poses: placed }, elsewhere }
}

/** A frame of a plate of which it is known where it lies. */
interface Start {
  readonly frame: number
  readonly pose: Transform
}

/** The plate's pose of a frame in its middle, or of one of a few others. */
async function startOn(
  workspace: Workspace,
  follower: CameraFollower,
  plate: Plate,
  request: CameraRequest,
): Promise<Start | null> {
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
  from: Start,
  { signal }: CameraRequest,
): AsyncGenerator<[frame: number, Followed | null]> {
  const at = plate.frames.indexOf(from.frame)
  for (const frames of [plate.frames.slice(at), plate.frames.slice(0, at).reverse()]) {
    const next = follower.sweep(from.pose)
    for await (const small of untilAborted(smallFrames(workspace, plate, frames), signal))
      yield [small.frame, next(small)]
  }
}

async function regionFollower(
  workspace: Workspace,
  { plates: [target], reference, hidden, window }: CameraRequest,
): Promise<RegionFollower> {
  const core = intersect(grow(window, RING_PX), target.active)
  const halves = await readOneHalf(target, reference, core)
  return new RegionFollower(workspace, halves, core, countsOver(core, hidden), window, target.clipLevel)
}

async function allStand(
  { plates, reference, signal }: CameraRequest,
  ring: RegionFollower,
  rough: readonly ReadonlyMap<number, Transform>[],
): Promise<boolean> {
  const [{ width, height }] = plates
  if (plates.some((plate) => plate.width !== width || plate.height !== height)) return false
  for (const [index, plate] of plates.entries())
    if (!(await standsRound(ring, plate, rough[index], index === 0 ? reference : null, signal))) return false
  return true
}

/** Poses as the region's surroundings have them, where these go their own way. */
async function onRegion(
  { plates, reference, window, signal }: CameraRequest,
  ring: RegionFollower,
  rough: readonly ReadonlyMap<number, Transform>[],
  factor: number,
): Promise<Map<number, Placed>[]> {
  const seeing = rough.map((of, index) =>
    [...of].flatMap(([frame, pose]): Rough[] =>
      shareSeen(plates[index], pose, window) > 0.9 ? [{ frame, pose }] : [],
    ),
  )
  const gains: number[] = []
  let told = 0
  for (const [index, plate] of plates.entries()) {
    const some = subsampleToEnds(
      seeing[index].filter(({ frame }) => index > 0 || frame !== reference),
      TOLD_BY,
    )
    for await (const { roughNcc, refined } of untilAborted(ring.refine(plate, some), signal)) {
      if (roughNcc === null) continue
      told++
      if (refined !== null) gains.push(refined.ncc - roughNcc)
    }
  }
  gains.sort((a, b) => a - b)
  // Where the ring holds few of them, a dark board under grain say, it tells nothing.
  const byRegion = gains.length > told / 2 && gains[gains.length >> 1] > OWN_WAY
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
  return poses
}

/** @param factor plate pixels per pixel of the picture that they were found on */
function asFound(rough: ReadonlyMap<number, Transform>, factor: number): Map<number, Placed> {
  return new Map([...rough].map(([frame, pose]) => [frame, { pose, sigma: FRAME_SIGMA * factor }]))
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
