// What a piece of footage is: its frames, light, grain and camera, from one rectangle of every frame.
import { createHash } from 'node:crypto'
import { openFootage } from '../footage/active.js'
import type { Plate } from '../footage/plate.js'
import { type FramePrint, repeatedRuns } from '../footage/repeats.js'
import { cutPlane } from '../kernels/shift-plane.js'
import { align, HELD_SIGMA } from '../match/align.js'
import { logLuminance, VALID } from '../match/log-luminance.js'
import { prepareReference } from '../match/reference.js'
import { select } from '../match/selection.js'
import { noiseSigma } from '../match/texture.js'
import type { OnProgress } from '../progress.js'
import { grow, type Rect } from '../raster/rect.js'
import { clipLevel, readStore, type StoredFrame } from '../track/read-frames.js'

/** The rectangle looked at, from the middle of the frame: enough for light, grain and camera, quick to read. */
const LOOK_WIDTH = 480
const LOOK_HEIGHT = 320
/** Largest camera movement against the middle frame that is followed, pixels. */
const CAMERA_REACH = 16

export interface SurveyFrame {
  readonly frame: number
  /** Mean log2 luminance against the plate's middle frame, over what both see. */
  readonly stops: number
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
}

/** @throws as openPlate and readStore */
export async function surveyPlate(
  spec: string,
  options: { encoding?: string; layer?: string; onProgress?: OnProgress; signal?: AbortSignal } = {},
): Promise<Survey> {
  const plate = await openFootage(spec, options)
  const { active } = plate
  const w = Math.min(active.w, LOOK_WIDTH)
  const h = Math.min(active.h, LOOK_HEIGHT)
  const rect = { x: active.x + ((active.w - w) >> 1), y: active.y + ((active.h - h) >> 1), w, h }
  const keys = plate.frames.map((frame) => ({ plate: 0, frame }))
  const store = await readStore([plate], keys, rect, options)
  const clip = clipLevel(plate)
  const look = (f: StoredFrame) => logLuminance(f.rgb, rect, clip)
  const middle = store.frames[store.frames.length >> 1]
  const reach = Math.min(CAMERA_REACH, Math.floor(Math.min(w, h) / 8))
  const first = look(middle)
  const core = cutPlane(first.log, grow(rect, -reach))
  const everywhere = new Float32Array(core.data.length).fill(1)
  const reference = prepareReference(core, everywhere, reach)
  const wholeRect = new Float32Array(w * h).fill(1)
  const frames: SurveyFrame[] = []
  for (const [i, stored] of store.frames.entries()) {
    options.signal?.throwIfAborted()
    const seen = look(stored)
    const pose = align(reference, seen.log, reach)
    const held = pose !== null && pose.sigma <= HELD_SIGMA
    frames.push({
      frame: stored.frame,
      stops: middleDifference(seen.log.data, first.log.data, seen.validity, first.validity),
      grainStops: noiseSigma(seen.log.data, w, wholeRect),
      dx: held ? pose.dx : null,
      dy: held ? pose.dy : null,
    })
    options.onProgress?.({ phase: 'surveying', done: i + 1, total: store.frames.length })
    if (i % 8 === 0) await new Promise(setImmediate)
  }
  return {
    plate,
    frames,
    repeated: repeatedRuns(printsOf(store.frames)),
    unreadable: store.unreadable.map((u) => u.message),
    rect,
  }
}

function printsOf(frames: readonly StoredFrame[]): FramePrint[] {
  return frames.map(({ frame, rgb }) => ({ frame, print: createHash('sha1').update(rgb).digest('base64') }))
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
