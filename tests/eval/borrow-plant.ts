// Plants a shadow (or a gleam): a soft-edged patch of changed light that crosses the region at known frames, multiplied
// into footage in which people walk. The truth is a formula, so it is known for every pixel of every frame.
import { mkdir, readFile, rename, rm, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import pLimit from 'p-limit'
import sharp from 'sharp'
import type { Rect } from '../../src/raster/rect.js'
import { randomFrom } from '../random.js'
import { moved, type Picture, picture } from '../resample.js'
import { type Case, middleOf } from './case.js'
import type { Disturbance } from './disturbance.js'
import { type Footage, readLinear, toDisplay } from './footage.js'
import type { Variant } from './motion.js'
import type { Window } from './pick-windows.js'
import { describeCase, maskPath, plateFolder } from './plant.js'
import { inRegion } from './region.js'

/** A patch of changed light, in footage pixels: an ellipse with a core and a soft edge, moving at an even pace. */
export interface Shade {
  /** Stops in the core; below 0 it is a shadow. */
  readonly stops: number
  /** Per channel, over the change of luminance: a factor on its stops. */
  readonly tint: readonly [number, number, number]
  /** Its middle at `peak`, and how far it moves from frame to frame. */
  readonly x: number
  readonly y: number
  readonly vx: number
  readonly vy: number
  readonly peak: number
  /** Half axes, pixels, and the share of them over which the edge falls off. */
  readonly rx: number
  readonly ry: number
  readonly soft: number
}

export interface ShadeCase extends Case {
  readonly shade: Shade
  /** Frames on which it touches the region, and on which it is strongest there (the middle of a plateau). */
  readonly start: number
  readonly strongest: number
  readonly end: number
  /** Its deepest stops in the region on the strongest frame. */
  readonly deepest: number
}

/** Goes up when planting changes. */
export const SHADING = 3
const TAPS_BEFORE = 8

/** Stops of luminance at a footage pixel on a frame. */
export function stopsAt(shade: Shade, x: number, y: number, frame: number): number {
  const u = (x - shade.x - shade.vx * (frame - shade.peak)) / shade.rx
  const v = (y - shade.y - shade.vy * (frame - shade.peak)) / shade.ry
  const from = (1 - Math.hypot(u, v)) / shade.soft
  if (from <= 0) return 0
  const t = Math.min(1, from)
  return shade.stops * t * t * (3 - 2 * t)
}

/** Light that the planted plate can hold: brighter pixels clip, and nobody could lift what is gone. */
const BRIGHTEST = 0.95
const FAINTEST_STOPS = 0.15
const DEEPEST_STOPS = 1.2

/** Stops by which the region can get brighter before one pixel in a hundred clips. */
export async function roomAbove(footage: Footage, window: Window): Promise<number> {
  const { data } = await readLinear(footage, middleOf(window), window.box)
  const sorted = data.slice().sort()
  return Math.log2(BRIGHTEST / sorted[Math.floor(0.99 * sorted.length)])
}

/** Some shade for a window, whose peak is a frame on which the region can be seen. */
export function shadeFor(
  footage: Footage,
  disturbance: Disturbance,
  window: Window,
  { variant, number, seed, room }: { variant: Variant; number: number; seed: string; room: number },
): ShadeCase {
  const base = describeCase(footage, disturbance, window, { variant, number, seed })
  const random = randomFrom(`shade ${seed} ${number} ${variant}`)
  const { box } = window
  const range = (low: number, high: number) => low + (high - low) * random()
  const deep = range(FAINTEST_STOPS, DEEPEST_STOPS)
  // Flicker takes a fifth of a stop of the room.
  const able = random() >= 0.75 && room - 0.2 > FAINTEST_STOPS
  const stops = able ? Math.min(deep, room - 0.2) : -deep
  const angle = 2 * Math.PI * random()
  const speed = range(3, 14)
  const rx = range(22, 70)
  const ry = range(18, 50)
  const far = (f: number) =>
    Math.min(Math.abs(f - window.frames[0]), Math.abs(f - window.frames[window.frames.length - 1]))
  // The peak's frames must show the region, and not lie in the target range itself.
  const seen = footage.frames.filter(
    (f, i) =>
      i > 12 &&
      i < footage.frames.length - 12 &&
      far(f) > 30 &&
      base.labels.slice(i - 2, i + 3).every((l) => l !== 'disturbed'),
  )
  const peak = seen[Math.floor(random() * seen.length)]
  if (peak === undefined) throw new Error(`no frame of ${base.id} can carry a shade`)
  const shade: Shade = {
    stops,
    tint: [1 + range(-0.06, 0.06), 1, 1 + range(-0.06, 0.06)],
    x: box.x + box.w / 2 + range(-0.2, 0.2) * box.w,
    y: box.y + box.h / 2 + range(-0.2, 0.2) * box.h,
    vx: speed * Math.cos(angle),
    vy: speed * Math.sin(angle),
    peak,
    rx,
    ry,
    soft: range(0.35, 0.8),
  }
  // The region lies where the middle target frame shows it.
  const { dx, dy } = base.motion[footage.frames.indexOf(middleOf(window))]
  return { ...base, shade, ...truthOf(shade, { ...box, x: box.x - dx, y: box.y - dy }, footage.frames) }
}

function truthOf(shade: Shade, box: Rect, frames: readonly number[]) {
  const mean = frames.map((f) => {
    let sum = 0
    for (let y = 0; y < box.h; y++)
      for (let x = 0; x < box.w; x++)
        if (inRegion(box, x, y)) sum += Math.abs(stopsAt(shade, box.x + x, box.y + y, f))
    return sum
  })
  const most = Math.max(...mean)
  const plateau = frames.filter((_, i) => mean[i] >= 0.995 * most)
  const strongest = plateau[plateau.length >> 1]
  // Less than a twentieth of the peak is below what anybody would call its start.
  const touched = frames.filter((_, i) => mean[i] >= 0.05 * most)
  let deepest = 0
  for (let y = 0; y < box.h; y++) {
    for (let x = 0; x < box.w; x++) {
      if (!inRegion(box, x, y)) continue
      const s = stopsAt(shade, box.x + x, box.y + y, strongest)
      if (Math.abs(s) > Math.abs(deepest)) deepest = s
    }
  }
  return { start: touched[0], strongest, end: touched[touched.length - 1], deepest }
}

const casePath = (folder: string): string => join(folder, 'shade.json')

export async function plantedShade(folder: string): Promise<ShadeCase | null> {
  const text = await readFile(casePath(folder), 'utf8').catch(() => null)
  return text === null ? null : (JSON.parse(text) as ShadeCase)
}

/** Plants several cases in one pass over the footage. */
export async function plantShades(
  footage: Footage,
  cases: readonly { readonly folder: string; readonly planted: ShadeCase }[],
  onFrame: (done: number, total: number) => void,
): Promise<void> {
  for (const { folder, planted } of cases) {
    await rm(folder, { recursive: true, force: true })
    await mkdir(plateFolder(folder), { recursive: true })
    await writeMask(folder, planted)
  }
  const limit = pLimit(2)
  let done = 0
  await Promise.all(
    footage.frames.map((frame, index) =>
      limit(async () => {
        const whole = await readLinear(footage, frame)
        for (const { folder, planted } of cases) {
          const shown = shadedFrame(planted, whole, frame, index, true)
          await writeCodes(join(plateFolder(folder), `shaded.${String(frame).padStart(4, '0')}.png`), shown)
        }
        onFrame(++done, footage.frames.length)
      }),
    ),
  )
  for (const { folder, planted } of cases) {
    await writeFile(`${casePath(folder)}.part`, JSON.stringify(planted))
    await rename(`${casePath(folder)}.part`, casePath(folder))
  }
}

function shadedFrame(
  { crop, motion, shade }: ShadeCase,
  whole: Picture,
  frame: number,
  index: number,
  lit: boolean,
): Picture {
  const { stops, dx, dy } = motion[index]
  const near = { x: crop.x - TAPS_BEFORE - 8, y: crop.y - TAPS_BEFORE - 8, w: crop.w + 32, h: crop.h + 32 }
  const part = picture(near.w, near.h)
  const gain = 2 ** stops
  for (let y = 0, i = 0; y < near.h; y++) {
    for (let x = 0; x < near.w; x++, i += 3) {
      const sx = Math.max(0, Math.min(whole.width - 1, near.x + x))
      const sy = Math.max(0, Math.min(whole.height - 1, near.y + y))
      const s = lit ? stopsAt(shade, sx, sy, frame) : 0
      for (let c = 0; c < 3; c++)
        part.data[i + c] = whole.data[(sy * whole.width + sx) * 3 + c] * gain * 2 ** (s * shade.tint[c])
    }
  }
  const rect = { left: crop.x - near.x, top: crop.y - near.y, width: crop.w, height: crop.h }
  return moved(part, rect, dx, dy, 'bicubic')
}

async function writeCodes(path: string, { width, height, data }: Picture): Promise<void> {
  const codes = new Uint16Array(data.length)
  for (let i = 0; i < data.length; i++) codes[i] = Math.round(65535 * toDisplay(data[i]))
  await sharp(codes, { raw: { width, height, channels: 3 } })
    .toColourspace('rgb16')
    .png({ compressionLevel: 2 })
    .toFile(path)
}

async function writeMask(folder: string, { crop, box }: Case): Promise<void> {
  const mask = new Uint8Array(crop.w * crop.h)
  for (let y = 0; y < box.h; y++)
    for (let x = 0; x < box.w; x++) if (inRegion(box, x, y)) mask[(box.y + y) * crop.w + box.x + x] = 255
  await sharp(mask, { raw: { width: crop.w, height: crop.h, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .toFile(maskPath(folder))
}
