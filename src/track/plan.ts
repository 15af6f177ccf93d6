// Which frames of a shot are read, and what of each.
import type { Workspace } from '../kernels/workspace.js'
import { grow, intersect, type Rect } from '../raster/rect.js'
import type { RegionFrame } from '../region/region.js'
import { type FrameKey, keyOf } from '../shot/frame-key.js'
import type { Shot } from '../shot/open-shot.js'
import {
  CAMERA_PX,
  FILTER_PX,
  referenceOf,
  type TrackedFrame,
  type TrackedRects,
  type TrackerSetup,
  trackedRects,
} from './frame-tracker.js'
import { bandRect } from './global-exposure.js'
import { type Arrival, Keeper, type Kept } from './read-frames.js'
import type { Run } from './read-order.js'
import { readReferenceFrame } from './reference-frame.js'
import { trackFrames } from './track.js'
import { type Sharing, sharingOf, TrackThreads } from './track-threads.js'

export interface Plan {
  /** Each once: the target's frames, then the others. */
  readonly frames: readonly FrameKey[]
  /** What is looked at: the region with its surround, or another surface's. */
  readonly window: Rect
  readonly rects: TrackedRects
  /** What is read where the exposure of the whole frame is wanted, and colours are kept. */
  readonly band?: Rect
  /** What is kept of a frame: the window and the reach round it. */
  readonly keep: Rect
  /** The target frame that the others are followed against, or the next to it that can be read. */
  readonly wanted: number
}

export interface PlanOptions {
  /** A surface's window. */
  readonly window: Rect
  readonly wanted: number
  /** Read the exposure of the whole frame, and keep colours. */
  readonly exposure?: boolean
}

/**
 * All frames of all plates are read, whoever of them may lend: what is empty, how the light drifts, how much of a seam is
 * grain, is a matter of the footage and not of who is asked.
 */
export function planOf(shot: Shot, { window, wanted, exposure = false }: PlanOptions): Plan {
  const full = shot.plates[0].active
  const rects = trackedRects(window, shot.reach, full)
  return {
    frames: eachOnce([
      ...keysOf(0, shot.frames),
      ...shot.plates.flatMap(({ frames }, i) => keysOf(i, frames)),
    ]),
    window,
    rects,
    ...(exposure ? { band: bandRect(full, rects.rect) } : {}),
    keep: intersect(grow(window, shot.reach + FILTER_PX), full),
    wanted,
  }
}

export interface TrackedShot extends Kept<TrackedFrame> {
  /** The frame that the others were followed against. */
  readonly reference: FrameKey
  /** False where nothing in the whole picture would tell that the camera moved. */
  readonly holds: boolean
}

/** Whether other threads read the plan's frames. */
export function isSharedOut(shot: Shot, plan: Plan): boolean {
  return sharing(shot, plan).others > 0
}

function sharing({ plates }: Shot, { frames, band, rects }: Plan): Sharing {
  return sharingOf(plates, frames.length, band ?? rects.rect)
}

/** A ring that is expected to hold the camera to this many pixels without its strongest quarter is enough. */
const FIRM_PX = 0.02
/** A picture that is expected to hold it no better than to this holds nothing. */
const MAX_HOLD_PX = 0.05

/** What is known of a shot before its frames are. */
export type Followed = Pick<TrackedShot, 'reference' | 'holds'>

export interface TrackOptions {
  /** The order in which the plan's frames are read; left out: plate by plate. */
  readonly runs?: Iterable<Run>
  readonly signal?: AbortSignal
}

/**
 * Reads the plan's frames and follows the camera over them.
 *
 * @param maskOf what must not be followed on a target frame, over the plan's window
 * @throws FRAMES_UNREADABLE, as trackFrames
 */
export async function* trackShot(
  workspace: Workspace,
  shot: Shot,
  plan: Plan,
  maskOf: (frame: number) => RegionFrame,
  { runs, signal }: TrackOptions = {},
): AsyncGenerator<Arrival<TrackedFrame> & Followed, TrackedShot> {
  const { plates } = shot
  const { others } = sharing(shot, plan)
  const started = others === 0 ? undefined : await TrackThreads.start(others)
  try {
    const { setup, frame, holds } = await setupOf(workspace, shot, plan, maskOf)
    const followed: Followed = { reference: { plate: 0, frame }, holds }
    const keeper = new Keeper<TrackedFrame>()
    for await (const one of trackFrames(workspace, plates, plan.frames, setup, { runs, started, signal })) {
      keeper.add(one)
      yield { ...one, ...followed }
    }
    return { ...keeper.all(), ...followed }
  } finally {
    await started?.close()
  }
}

/**
 * The reference frame, and as much of it as holds the camera: the ring round the window where that will do, more of the
 * frame where it won't, since all that is read of one frame is read of every other.
 */
async function setupOf(
  workspace: Workspace,
  { plates, frames, reach }: Shot,
  plan: Plan,
  maskOf: (frame: number) => RegionFrame,
): Promise<{ setup: TrackerSetup; frame: number; holds: boolean }> {
  const { keep, window, wanted } = plan
  const full = plates[0].active
  let { rects, band } = plan
  for (let aroundPx = 2 * CAMERA_PX; ; aroundPx *= 2) {
    const { frame, halves } = await readReferenceFrame(
      plates,
      plan.frames,
      frames,
      wanted,
      band ?? rects.rect,
    )
    const setup: TrackerSetup = {
      reference: halves,
      rects,
      ...(band ? { band } : {}),
      keep,
      window,
      mask: maskOf(frame),
      reachPx: reach,
      clip: plates.map((p) => p.clipLevel),
    }
    const { hold } = referenceOf(workspace, setup)
    const whole = rects.core.w === full.w && rects.core.h === full.h
    if (hold.robust <= FIRM_PX || whole) return { setup, frame, holds: hold.sigma <= MAX_HOLD_PX }
    rects = trackedRects(window, reach, full, aroundPx)
    if (band) band = bandRect(full, rects.rect)
  }
}

function keysOf(plate: number, frames: readonly number[]): FrameKey[] {
  return frames.map((frame) => ({ plate, frame }))
}

function eachOnce(keys: readonly FrameKey[]): FrameKey[] {
  const wanted = new Map<string, FrameKey>()
  for (const key of keys) wanted.set(keyOf(key), key)
  return [...wanted.values()]
}
