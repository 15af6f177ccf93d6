// The quay from a tripod that pans, tilts, rolls and zooms, and a second take of it by another camera: nearer, darker and
// warmer, with more pixels. Both look at the same picture of the quiet day, by matrices that truth.json tells.
import { join } from 'node:path'
import { makeFolder } from '../footage/write/make-folder.js'
import { resample } from '../kernels/resample.js'
import { Workspace } from '../kernels/workspace.js'
import { LANCZOS3 } from '../raster/filters.js'
import { type Plane, plane } from '../raster/plane.js'
import { compose, invert, shift, type Transform } from '../raster/transform.js'
import { moveMask } from '../region/move-mask.js'
import { frameName, momentsOf } from './account.js'
import { encodeMask, encodePlate, refuseExisting, writeWhole } from './files.js'
import { drawMask, PORTER_OUTLINE } from './masks.js'
import { cleanFrame, type RenderCare, sceneTruth } from './scene.js'
import { expose } from './sensor.js'
import type { LeftOut, PlateTruth, SceneOptions } from './truth.js'

/** The picture that both look at. */
const WIDE: Required<SceneOptions> = { seed: 9, width: 640, height: 360, first: 1001, frames: 80 }
/** What is shot of it: the porter crosses in the middle, and has not come or is gone at the ends. */
const SHOT = { first: 1015, last: 1066 }
const VIEW = { width: 428, height: 240 }
/** The porter is to be hidden here. */
const HIDDEN = { first: 1047, last: 1052 }
/** The other camera's take: another size, and a stretch of its own. */
const OTHER = {
  width: 720,
  height: 406,
  first: 2001,
  frames: 12,
  stops: -0.6,
  gains: [1.08, 1, 0.9] as const,
}
/** Focal length of the wide picture, pixels: a normal lens. */
const FOCAL_PX = 686

export interface TripodTruth extends PlateTruth {
  /** The porter, on the frames that are to be repaired; the mask was drawn on frame `at`. */
  readonly hide: { readonly first: number; readonly last: number; readonly at: number; readonly mask: string }
  /** Per frame what takes the wide picture's pixels to its own. */
  readonly cameras: readonly { readonly frame: number; readonly toFrame: Transform }[]
  readonly take: { readonly pattern: string; readonly toFrame: Transform }
}

/** Where the camera looks on a frame: H = K' R inverse(K). R. Hartley, A. Zisserman, Multiple View Geometry, section 8.4. */
export function tripodAt(frame: number): Transform {
  const t = (frame - SHOT.first) / (SHOT.last - SHOT.first)
  const pan = 0.12 - 0.17 * t
  const tilt = 0.012 * Math.sin(5 * t)
  const roll = 0.022 * Math.sin(4 * t + 1)
  const zoom = 1 + 0.03 * Math.sin(3 * t)
  return through(pan, tilt, roll, FOCAL_PX * zoom, VIEW.width, VIEW.height)
}

function through(
  pan: number,
  tilt: number,
  roll: number,
  focal: number,
  width: number,
  height: number,
): Transform {
  const [cp, sp, ct, st, cr, sr] = [pan, tilt, roll].flatMap((a) => [Math.cos(a), Math.sin(a)])
  const aboutY: Transform = [cp, 0, sp, 0, 1, 0, -sp, 0, cp]
  const aboutX: Transform = [1, 0, 0, 0, ct, -st, 0, st, ct]
  const aboutZ: Transform = [cr, -sr, 0, sr, cr, 0, 0, 0, 1]
  const wide: Transform = [FOCAL_PX, 0, WIDE.width / 2, 0, FOCAL_PX, WIDE.height / 2, 0, 0, 1]
  const seen: Transform = [focal, 0, width / 2, 0, focal, height / 2, 0, 0, 1]
  return compose(seen, compose(aboutZ, compose(aboutX, compose(aboutY, invert(wide)))))
}

/** The truth of both plates without rendering them. */
function tripodTruth(): TripodTruth {
  const wide = sceneTruth(WIDE)
  const frames = wide.frames.filter(({ frame }) => frame >= SHOT.first && frame <= SHOT.last)
  const { first, last } = HIDDEN
  const sway = (frame: number) => {
    const { dx, dy } = wide.frames[frame - WIDE.first]
    return shift(dx, dy)
  }
  return {
    ...wide,
    plate: { ...wide.plate, pattern: 'plate/tripod.####.png', ...SHOT, ...VIEW },
    frames,
    hide: { first, last, at: (first + last) >> 1, mask: 'mask/porter.png' },
    // The wide picture sways by itself; what is still is its rest.
    cameras: frames.map(({ frame }) => ({ frame, toFrame: compose(tripodAt(frame), sway(frame)) })),
    take: {
      pattern: 'take-2/take.####.png',
      toFrame: through(0.01, -0.006, -0.012, FOCAL_PX * 1.32, OTHER.width, OTHER.height),
    },
  }
}

/** A frame of the plate without the porter, or without what `without` says, free of noise: linear RGB. */
export function cleanTripodFrame(frame: number, without: LeftOut = { porter: true }): Float32Array {
  return viewOf(cleanFrame(WIDE, frame, without).data, tripodAt(frame), VIEW.width, VIEW.height)
}

/**
 * Writes `plate/tripod.####.png`, `take-2/take.####.png`, `mask/porter.png` and, last, `truth.json` into a folder.
 *
 * @throws as renderScene
 */
export async function renderTripod(
  folder: string,
  { onProgress, signal, overwrite = false }: RenderCare = {},
): Promise<TripodTruth> {
  const truth = tripodTruth()
  await refuseExisting(folder, truth, overwrite)
  for (const name of ['plate', 'take-2', 'mask']) await makeFolder(join(folder, name))
  const { hide } = truth
  await writeWhole(join(folder, hide.mask), await maskOf(truth))
  const total = truth.frames.length + OTHER.frames
  let done = 0
  const write = async (path: string, linear: Float32Array, key: number, size: typeof VIEW) => {
    signal?.throwIfAborted()
    const code = new Uint16Array(linear.length)
    expose(linear, WIDE.seed * 65537 + key, code)
    await writeWhole(join(folder, path), await encodePlate(code, size.width, size.height))
    onProgress?.({ phase: 'rendering', done: ++done, total })
  }
  for (const { frame } of truth.frames) {
    await write(frameName(truth.plate.pattern, frame), cleanTripodFrame(frame, {}), frame, VIEW)
  }
  const { width, height } = OTHER
  for (let i = 0; i < OTHER.frames; i++) {
    const still = cleanFrame(WIDE, WIDE.first + i).data
    const shown = viewOf(still, truth.take.toFrame, width, height)
    for (let k = 0; k < shown.length; k++) shown[k] *= 2 ** OTHER.stops * OTHER.gains[k % 3]
    await write(frameName(truth.take.pattern, OTHER.first + i), shown, OTHER.first + i, { width, height })
  }
  await writeWhole(join(folder, 'truth.json'), `${JSON.stringify(truth, null, 1)}\n`)
  return truth
}

/** Round all of the porter's way over the range, where it lies on the frame that it is drawn on. */
async function maskOf({ hide: { at } }: TripodTruth): Promise<Buffer> {
  const { width, height } = WIDE
  const scene = { ...WIDE, story: 'quay' as const }
  const drawn = drawMask(PORTER_OUTLINE, width, height, momentsOf(HIDDEN, scene))
  const mask = { rect: { x: 0, y: 0, w: width, h: height }, data: Float32Array.from(drawn, (v) => v / 255) }
  const full = { x: 0, y: 0, w: VIEW.width, h: VIEW.height }
  const { rect, data } = moveMask(mask, tripodAt(at), full)
  const grey = new Uint8Array(VIEW.width * VIEW.height)
  for (let y = 0; y < rect.h; y++)
    for (let x = 0; x < rect.w; x++)
      grey[(rect.y + y) * VIEW.width + rect.x + x] = Math.round(255 * data[y * rect.w + x])
  return encodeMask(grey, VIEW.width, VIEW.height)
}

/** The wide picture through a camera. @param wide linear RGB */
function viewOf(
  wide: Readonly<Float32Array>,
  toFrame: Transform,
  width: number,
  height: number,
): Float32Array {
  const out = new Float32Array(3 * width * height)
  const source: Plane = plane(0, 0, WIDE.width, WIDE.height)
  const view: Plane = plane(0, 0, width, height)
  const workspace = new Workspace()
  for (let c = 0; c < 3; c++) {
    for (let i = 0; i < source.data.length; i++) source.data[i] = wide[3 * i + c]
    resample(workspace, source, toFrame, view, LANCZOS3)
    for (let i = 0; i < view.data.length; i++) out[3 * i + c] = view.data[i]
  }
  workspace.close()
  return out
}
