// Does a camera move at all? Told by a few frames of every plate, seen small.
import type { Plate } from '../../footage/plate.js'
import type { Workspace } from '../../kernels/workspace.js'
import { subsampleToEnds } from '../../match/subsample.js'
import { intersect, type Rect } from '../../raster/rect.js'
import { apply, IDENTITY, invert, shift, shiftOf } from '../../raster/transform.js'
import { untilAborted } from '../../turns.js'
import { trackedRects } from '../frame-tracker.js'
import { CameraFollower, type Simplest } from './follow.js'
import { apartOver } from './on-region.js'
import { type SmallFrame, smallFrames } from './small-frame.js'

/** Frames of a plate that are looked at first, spread over it: a locked-off camera is known by them. */
const PROBES = 7
/** They are looked at this small, pixels. */
const PROBE_PX = 256
/** What a probe says beyond a shift must move the region by more than this, pixels of the probe, to be more than its error. */
const PROBE_ERROR_PX = 0.35
/** A strip of the frames is looked at first where it has no more than this share of their rows. */
const STRIP_SHARE = 0.6
/** A shift that it shows must be no more than a probe's error, and within the reach by so many of its standard errors. */
const STRIP_SIGMAS = 3
/** Frames beside the reference frame that tell whether it moves where most of a plate is not recognised. */
const BESIDE = [2, 5, 10, 20]
/** What they show of a camera that moves, at least, pixels. */
const BESIDE_PX = 1

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

/** True where frames spread over the plates tell of more than a sway, or a plate has other pixels. */
export async function moves(workspace: Workspace, request: CameraRequest): Promise<boolean> {
  const { plates, reference, window, reachPx } = request
  const [target] = plates
  if (plates.some((p) => p.width !== target.width || p.height !== target.height)) return true
  // What will be read of every frame where the camera does not move.
  const keep = trackedRects(window, reachPx, target.active).rect
  const cheap = plates.every((p) => p.source.byRows) && keep.h <= STRIP_SHARE * target.active.h
  if (cheap && (await standsInStrip(workspace, request, keep))) return false
  const probed = (plate: Plate, frames: readonly number[]) =>
    taken(smallFrames(workspace, plate, frames, PROBE_PX, keep), request)
  const [first] = await probed(target, [reference])
  if (first === undefined) return false
  const follower = CameraFollower.on(workspace, first, countsOf(first, request))
  if (follower === null) return false
  const least = PROBE_ERROR_PX * first.toPlate[0]
  for (const [index, plate] of plates.entries()) {
    let unknown = 0
    const probes = probesOf(request, index)
    for (const small of await probed(plate, probes)) {
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
      for (const small of await probed(plate, beside)) {
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

/**
 * True where the rows that will be read anyway show beyond doubt that no camera moves, over the whole width of the frames: what
 * else may come of it is left to whole frames.
 *
 * @param keep what will be read of every frame
 */
export async function standsInStrip(
  workspace: Workspace,
  request: CameraRequest,
  keep: Rect,
): Promise<boolean> {
  const { plates, reference, window, reachPx, signal } = request
  const probed = (plate: Plate, frames: readonly number[]) => {
    const { x, y, w, h } = plate.active
    const strip = intersect({ x, y: keep.y, w, h: keep.h }, { x, y, w, h })
    return untilAborted(smallFrames(workspace, plate, frames, PROBE_PX, keep, strip), signal)
  }
  const stands = (found: Simplest | null, { toPlate }: SmallFrame): boolean => {
    if (found === null || found.model === 'more' || found.shift === null) return false
    const { pose, sigma } = found.shift
    const { dx, dy } = shiftOf(pose, window)
    const length = Math.hypot(dx, dy)
    return length <= PROBE_ERROR_PX * toPlate[0] && length + STRIP_SIGMAS * sigma <= reachPx
  }
  let follower: CameraFollower | null = null
  for await (const first of probed(plates[0], [reference]))
    follower = CameraFollower.on(workspace, first, countsOf(first, request))
  if (follower === null) return false
  for (const [index, plate] of plates.entries())
    for await (const small of probed(plate, probesOf(request, index)))
      if (!stands(follower.simplest(small), small)) return false
  return true
}

/** The frames of a plate that are looked at, beside the reference frame. */
function probesOf({ plates, reference }: CameraRequest, index: number): number[] {
  return subsampleToEnds(plates[index].frames, PROBES).filter((f) => index > 0 || f !== reference)
}

/** 1 on what of a small picture of the reference frame may be followed. */
export function countsOf({ picture, known, toPlate }: SmallFrame, { hidden }: CameraRequest): Uint8Array {
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

export async function taken<T>(source: AsyncGenerator<T>, { signal }: CameraRequest): Promise<T[]> {
  const all: T[] = []
  for await (const one of untilAborted(source, signal)) all.push(one)
  return all
}
