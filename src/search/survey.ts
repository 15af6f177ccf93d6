// What a piece of footage is: its frames, light, grain and camera, from one rectangle of every frame.

import { openFootage } from '../footage/active.js'
import type { Plate } from '../footage/plate.js'
import { type FramePrint, repeatedRuns } from '../footage/repeats.js'
import { Workspace } from '../kernels/workspace.js'
import { HELD_SIGMA } from '../match/align.js'
import { logLuminance, VALID } from '../match/log-luminance.js'
import { select } from '../match/selection.js'
import type { OnProgress } from '../progress.js'
import { grow, type Rect } from '../raster/rect.js'
import { shiftOf } from '../raster/transform.js'
import { checkLayer } from '../shot/validate.js'
import type { TrackerSetup } from '../track/frame-tracker.js'
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
  const { active } = plate
  const w = Math.min(active.w, LOOK_WIDTH)
  const h = Math.min(active.h, LOOK_HEIGHT)
  const rect = { x: active.x + ((active.w - w) >> 1), y: active.y + ((active.h - h) >> 1), w, h }
  const keys = plate.frames.map((frame) => ({ plate: 0, frame }))
  const reachPx = Math.min(CAMERA_REACH, Math.floor(Math.min(w, h) / 8))
  const middle = plate.frames[plate.frames.length >> 1]
  const reference = await readReferenceFrame([plate], keys, plate.frames, middle, rect)
  const clip = plate.clipLevel
  const workspace = new Workspace()
  const path = await toEnd(
    untilAborted(cameraPath(workspace, plate, { reference: middle, window: rect, reachPx, signal }), signal),
    ({ done, total }) => onProgress?.({ phase: 'following the camera', done, total }),
  )
  const views = new Map(path?.views.map((view) => [view.frame, view]))
  const first = logLuminance(workspace, reference.halves, rect, clip)
  const everywhere = new Float32Array(w * h)
  const setup: TrackerSetup = {
    reference: reference.halves,
    rects: { core: grow(rect, -reachPx), rect },
    keep: rect,
    window: rect,
    mask: { inside: everywhere, surround: everywhere.slice().fill(1) },
    reachPx,
    clip: [clip],
    print: true,
  }
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
      const { pose, noise, seen, print } = kept
      const held = pose.sigma <= HELD_SIGMA
      const offset = shiftOf(pose.transform, rect)
      prints.push({ frame, print: print! })
      const view = views.get(frame)
      frames.push(
        path === null
          ? {
              frame,
              stops: middleDifference(seen.log.data, first.log.data, seen.validity, first.validity),
              grainStops: noise,
              dx: held ? offset.dx : null,
              dy: held ? offset.dy : null,
            }
          : // Under a camera that moves the same pixels show other things.
            {
              frame,
              stops: view?.stops ?? null,
              grainStops: noise,
              dx: view?.x ?? null,
              dy: view?.y ?? null,
            },
      )
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
