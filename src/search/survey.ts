// What a piece of footage is: its frames, light, grain and camera, from one rectangle of every frame.

import { openFootage } from '../footage/active.js'
import type { Plate } from '../footage/plate.js'
import { type FramePrint, repeatedRuns } from '../footage/repeats.js'
import { Workspace } from '../kernels/workspace.js'
import { HELD_SIGMA } from '../match/align.js'
import { type LogLuminance, logLuminance, VALID } from '../match/log-luminance.js'
import { select } from '../match/selection.js'
import type { OnProgress } from '../progress.js'
import { grow, type Rect } from '../raster/rect.js'
import { shiftOf } from '../raster/transform.js'
import { checkLayer } from '../shot/validate.js'
import type { TrackedFrame, TrackerSetup } from '../track/frame-tracker.js'
import { readReferenceFrame } from '../track/reference-frame.js'
import { trackFrames } from '../track/track.js'
import { untilAborted } from '../turns.js'
import { type CameraPath, cameraPath } from './camera-path.js'

/** The rectangle looked at, from the middle of the frame: enough for light, grain and camera, quick to read. */
const LOOK_WIDTH = 480
const LOOK_HEIGHT = 320
/** Largest camera movement against the middle frame that is followed, pixels. */
const CAMERA_REACH = 16

interface SurveyFrame {
  readonly frame: number
  /** Log2 luminance against the plate's middle frame, over what both see; null where a camera that moves was lost. */
  readonly stops: number | null
  /** Grain: noise in stops (standard deviation of log2 luminance). */
  readonly grainStops: number | null
  /** Camera: moves this frame onto the middle frame, pixels; null where nothing holds it. */
  readonly dx: number | null
  readonly dy: number | null
}

export interface Survey {
  readonly plate: Plate
  readonly frames: readonly SurveyFrame[]
  /** Runs of frames that are the same picture, first to last. */
  readonly repeated: readonly { readonly first: number; readonly last: number }[]
  readonly unreadable: readonly string[]
  readonly rect: Rect
  /** What a camera that moves does; null where it stands, or sways by no more than `dx` and `dy` tell. */
  readonly path: CameraPath | null
}

/**
 * Follows every frame of a plate against its middle one. Frames are looked at as they come and not kept.
 *
 * @throws as openPlate, checkLayer and trackFrames
 */
export async function surveyPlate(
  spec: string,
  {
    onProgress,
    signal,
    ...options
  }: { encoding?: string; layer?: string; onProgress?: OnProgress; signal?: AbortSignal } = {},
): Promise<Survey> {
  const plate = await openFootage(spec, options)
  checkLayer([plate], options.layer)
  const rect = lookedAt(plate)
  const reachPx = Math.min(CAMERA_REACH, Math.floor(Math.min(rect.w, rect.h) / 8))
  const keys = plate.frames.map((frame) => ({ plate: 0, frame }))
  const middle = plate.frames[plate.frames.length >> 1]
  const reference = await readReferenceFrame([plate], keys, plate.frames, middle, rect)
  const workspace = new Workspace()
  const path = await toEnd(
    untilAborted(cameraPath(workspace, plate, { reference: middle, window: rect, reachPx, signal }), signal),
    ({ done, total }) => onProgress?.({ phase: 'following the camera', done, total }),
  )
  const against = logLuminance(workspace, reference.halves, rect, plate.clipLevel)
  const rowOf = path === null ? (one: Seen) => standing(one, against, rect) : underPath(path)
  const setup = setupOf(plate, reference.halves, rect, reachPx)
  const frames: SurveyFrame[] = []
  const prints: FramePrint[] = []
  const unreadable: { frame: number; message: string }[] = []
  try {
    for await (const one of untilAborted(trackFrames(workspace, [plate], keys, setup, { signal }), signal)) {
      const { frame, kept, done, total } = one
      onProgress?.({ phase: 'surveying', done, total })
      if (kept === undefined) {
        unreadable.push(one)
        continue
      }
      prints.push({ frame, print: kept.print! })
      frames.push(rowOf({ frame, kept }))
    }
  } finally {
    workspace.close()
  }
  const byNumber = (a: { frame: number }, b: { frame: number }) => a.frame - b.frame
  return {
    plate,
    frames: frames.sort(byNumber),
    repeated: repeatedRuns(prints.sort(byNumber)),
    unreadable: unreadable.sort(byNumber).map((u) => u.message),
    rect,
    path,
  }
}

/** The middle of what is picture. */
function lookedAt({ active }: Plate): Rect {
  const w = Math.min(active.w, LOOK_WIDTH)
  const h = Math.min(active.h, LOOK_HEIGHT)
  return { x: active.x + ((active.w - w) >> 1), y: active.y + ((active.h - h) >> 1), w, h }
}

/** There is no mask: all of the rectangle is looked at. */
function setupOf(plate: Plate, reference: Uint16Array, rect: Rect, reachPx: number): TrackerSetup {
  const nowhere = new Float32Array(rect.w * rect.h)
  return {
    reference,
    rects: { core: grow(rect, -reachPx), rect },
    keep: rect,
    window: rect,
    mask: { inside: nowhere, surround: nowhere.slice().fill(1) },
    reachPx,
    clip: [plate.clipLevel],
    print: true,
  }
}

interface Seen {
  readonly frame: number
  readonly kept: TrackedFrame
}

/** Of a camera that stands: the light of each pixel against the reference frame's. */
function standing(
  { frame, kept: { pose, noise, seen } }: Seen,
  against: LogLuminance,
  rect: Rect,
): SurveyFrame {
  const isHeld = pose.sigma <= HELD_SIGMA
  const { dx, dy } = shiftOf(pose.transform, rect)
  return {
    frame,
    stops: middleDifference(seen.log.data, against.log.data, seen.validity, against.validity),
    grainStops: noise,
    dx: isHeld ? dx : null,
    dy: isHeld ? dy : null,
  }
}

/** Of one that moves, under which the same pixels show other things: light and place as its path has them. */
function underPath({ views }: CameraPath): (one: Seen) => SurveyFrame {
  const viewOf = new Map(views.map((view) => [view.frame, view]))
  return ({ frame, kept }) => {
    const view = viewOf.get(frame)
    return {
      frame,
      stops: view?.stops ?? null,
      grainStops: kept.noise,
      dx: view?.x ?? null,
      dy: view?.y ?? null,
    }
  }
}

async function toEnd<T, R>(source: AsyncGenerator<T, R>, heard: (one: T) => void): Promise<R> {
  for (;;) {
    const next = await source.next()
    if (next.done) return next.value
    heard(next.value)
  }
}

/** Median difference of two pictures where both are good: passers-by and a swaying camera hardly move it. */
function middleDifference(
  a: Readonly<Float32Array>,
  b: Readonly<Float32Array>,
  trustA: Readonly<Uint8Array>,
  trustB: Readonly<Uint8Array>,
): number {
  const off = new Float32Array(a.length)
  let n = 0
  for (let i = 0; i < a.length; i++) if (trustA[i] === VALID && trustB[i] === VALID) off[n++] = a[i] - b[i]
  return n > 0 ? select(off, n >> 1, n) : 0
}
