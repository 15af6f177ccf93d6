// Small plates with known truth: a textured wall, noise, exposure, sway and things that stand in the way, written as
// 16-bit PNG. The wall is a sum of waves, evaluated at sub-pixel places, so that no resampling filter has touched the
// truth.
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import sharp from 'sharp'
import { type Plane, plane } from '../src/raster/plane.js'
import { writeCodes } from './codes.js'

export const WIDTH = 160
export const HEIGHT = 120
export const FIRST = 1001
const TINT = [1.05, 1, 0.85] as const

/** Even numbers from 0 to 1 (mulberry32): the same for the same start on every machine. */
export function random(start: number): () => number {
  let state = start >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
}

/** Normally distributed numbers, mean 0 and deviation 1: the Box-Muller transform. */
export function normal(start: number): () => number {
  const even = random(start)
  return () => Math.sqrt(-2 * Math.log(1 - even())) * Math.cos(2 * Math.PI * even())
}

/** The first numbers of `normal(start)`: many plates have the grain of the same frames. */
export function grainOf(start: number, length: number): Float64Array {
  const key = `${start} ${length}`
  let known = grains.get(key)
  if (known === undefined) {
    if (grains.size * length > MAX_KEPT) grains.clear()
    const next = normal(start)
    known = new Float64Array(length)
    for (let i = 0; i < length; i++) known[i] = next()
    grains.set(key, known)
  }
  return known
}

/** What a codec leaves of a frame's noise: blocks of eight pixels that are renewed have the next one's. Row by row. */
export function recoded(
  noise: Readonly<Float64Array>,
  next: Readonly<Float64Array>,
  width: number,
  isRenewed: () => boolean,
): Float64Array<ArrayBuffer> {
  const out = Float64Array.from(noise)
  for (let top = 0; top < noise.length / width; top += 8)
    for (let left = 0; left < width; left += 8) {
      if (!isRenewed()) continue
      for (let y = top; y < top + 8; y++)
        for (let x = left; x < left + 8; x++) out[y * width + x] = next[y * width + x]
    }
  return out
}

const grains = new Map<string, Float64Array>()
/** Numbers kept of grain, and of all walls: 64 MB. */
const MAX_KEPT = 8e6

export type Wall = (x: number, y: number) => number

let walls = new WeakMap<Wall, Map<string, Float64Array>>()
let keptOfWalls = 0

/** A wall's light at every pixel, row-major, as the camera shows it that put it (dx, dy) away. Not to be changed. */
export function wallLight(wall: Wall, width: number, height: number, dx: number, dy: number): Float64Array {
  const key = `${width} ${height} ${dx} ${dy}`
  let light = walls.get(wall)?.get(key)
  if (light === undefined) {
    if (keptOfWalls > MAX_KEPT) {
      walls = new WeakMap()
      keptOfWalls = 0
    }
    keptOfWalls += width * height
    const known = walls.get(wall) ?? new Map<string, Float64Array>()
    walls.set(wall, known)
    light = new Float64Array(width * height)
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0; x < width; x++, i++) light[i] = wall(x - dx, y - dy)
    known.set(key, light)
  }
  return light
}

const texturedWalls = new Map<string, Wall>()

/** A wall's linear light, about 0.04 to 0.8: waves up to 40 px long from 5, so that half a pixel of movement shows. */
export function texturedWall(start = 1, shortestPx = 5): Wall {
  const key = `${start} ${shortestPx}`
  const wall = texturedWalls.get(key) ?? wavyWall(start, shortestPx)
  texturedWalls.set(key, wall)
  return wall
}

function wavyWall(start: number, shortestPx: number): Wall {
  const even = random(start)
  const waves = Array.from({ length: 14 }, () => {
    const k = (2 * Math.PI) / (shortestPx + (40 - shortestPx) * even() ** 1.5)
    const angle = 2 * Math.PI * even()
    return { kx: k * Math.cos(angle), ky: k * Math.sin(angle), phase: 2 * Math.PI * even(), stops: 0.22 }
  })
  return (x, y) => {
    let stops = 0
    for (const w of waves) stops += w.stops * Math.sin(w.kx * x + w.ky * y + w.phase)
    return 0.2 * 2 ** stops
  }
}

/** log2 of a wall's light with `noise` stops of grain, over a rectangle: what the match is made on. */
export function wallPlane(
  wall: Wall,
  rect: { x: number; y: number; w: number; h: number },
  { dx = 0, dy = 0, stops = 0, noise = 0, start = 1 } = {},
): Plane {
  const out = plane(rect.x, rect.y, rect.w, rect.h)
  const grain = normal(start)
  for (let y = 0, i = 0; y < rect.h; y++) {
    for (let x = 0; x < rect.w; x++, i++) {
      const light = Math.log2(wall(rect.x + x - dx, rect.y + y - dy))
      out.data[i] = light + stops + (noise > 0 ? noise * grain() : 0)
    }
  }
  return out
}

/** Something in the way: a box of plain light, in plate pixels. */
export interface Occluder {
  readonly x: number
  readonly y: number
  readonly w: number
  readonly h: number
  readonly light: number
  /** Its colour, linear-light factors; absent: the wall's. */
  readonly tint?: readonly [number, number, number]
}

export interface PlateOptions {
  readonly width?: number
  readonly height?: number
  readonly frames?: number
  readonly first?: number
  /** Frame numbers to leave out. */
  readonly gaps?: readonly number[]
  readonly wall?: Wall
  /** Grain, a share of the light (0.01 is one per cent). */
  readonly noise?: number
  /** Stops brighter than the wall, by index from the first frame. */
  readonly stops?: (index: number) => number
  /** Where the camera put the wall, pixels to the right and down. */
  readonly sway?: (index: number) => readonly [dx: number, dy: number]
  readonly occluders?: (index: number) => readonly Occluder[]
  /** Stops by which a place of a frame is lit besides. */
  readonly lit?: (index: number, x: number, y: number) => number
  readonly start?: number
}

export interface Planted {
  readonly folder: string
  readonly frames: readonly number[]
  pathOf(frame: number): string
  /** Linear light of the wall alone, RGB, as the frame would have shown it without grain or anything in the way. */
  clean(frame: number): Float32Array
  stops(frame: number): number
  sway(frame: number): readonly [number, number]
}

/** Writes `quay.1001.png` and on into a folder that is made for it. */
export async function plantPlate(folder: string, options: PlateOptions = {}): Promise<Planted> {
  const { width = WIDTH, height = HEIGHT, frames = 24, first = FIRST, gaps = [], noise = 0.01 } = options
  const { wall = texturedWall(), stops = () => 0, sway = () => [0, 0], occluders = () => [], lit } = options
  mkdirSync(folder, { recursive: true })
  const numbers = Array.from({ length: frames }, (_, i) => first + i).filter((f) => !gaps.includes(f))
  const pathOf = (frame: number) => join(folder, `quay.${String(frame).padStart(4, '0')}.png`)
  const clean = (frame: number): Float32Array => {
    const [dx, dy] = sway(frame - first)
    const base = Float32Array.from(wallLight(wall, width, height, dx, dy))
    const gain = 2 ** stops(frame - first)
    const out = new Float32Array(3 * base.length)
    for (let i = 0, p = 0; i < base.length; i++)
      for (let c = 0; c < 3; c++, p++) out[p] = base[i] * gain * TINT[c]
    return out
  }
  for (const frame of numbers) {
    const rgb = clean(frame)
    const gain = 2 ** stops(frame - first)
    for (const o of occluders(frame - first)) {
      for (let y = Math.max(0, o.y); y < Math.min(height, o.y + o.h); y++) {
        for (let x = Math.max(0, o.x); x < Math.min(width, o.x + o.w); x++) {
          for (let c = 0; c < 3; c++) rgb[3 * (y * width + x) + c] = o.light * gain * (o.tint ?? TINT)[c]
        }
      }
    }
    if (lit) {
      for (let y = 0, p = 0; y < height; y++)
        for (let x = 0; x < width; x++) {
          const more = 2 ** lit(frame - first, x, y)
          for (let c = 0; c < 3; c++, p++) rgb[p] *= more
        }
    }
    if (noise > 0) {
      const grain = grainOf(7919 * frame + (options.start ?? 0), rgb.length)
      for (let i = 0; i < rgb.length; i++) rgb[i] *= 1 + noise * grain[i]
    }
    await writeCodes(pathOf(frame), rgb, width, height)
  }
  return {
    folder,
    frames: numbers,
    pathOf,
    clean,
    stops: (f) => stops(f - first),
    sway: (f) => sway(f - first),
  }
}

/** An 8-bit mask, white where `white` says so. */
export async function plantMask(
  path: string,
  white: (x: number, y: number) => number,
  width = WIDTH,
  height = HEIGHT,
): Promise<string> {
  const bytes = new Uint8Array(width * height)
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) bytes[i] = Math.round(255 * white(x, y))
  await sharp(bytes, { raw: { width, height, channels: 1 } })
    .png()
    .toFile(path)
  return path
}

/** A white box on black, as a mask. */
export function boxOf(x: number, y: number, w: number, h: number): (u: number, v: number) => number {
  return (u, v) => (u >= x && u < x + w && v >= y && v < y + h ? 1 : 0)
}

/** Float samples as an uncompressed TIFF, NaN and infinity included. TIFF 6.0, sections 2 and 19 (SampleFormat 3). */
export function writeFloatTiff(path: string, samples: Float32Array, width: number, height: number): void {
  const channels = samples.length / (width * height)
  const tags: [tag: number, type: 3 | 4, values: number[]][] = [
    [256, 4, [width]],
    [257, 4, [height]],
    [258, 3, Array(channels).fill(32)],
    [259, 3, [1]],
    [262, 3, [channels === 1 ? 1 : 2]],
    [273, 4, [0]],
    [277, 3, [channels]],
    [278, 4, [height]],
    [279, 4, [samples.byteLength]],
    [339, 3, Array(channels).fill(3)],
  ]
  const head = 8 + 2 + 12 * tags.length + 4
  const bytes = Buffer.alloc(head + 16 + samples.byteLength)
  bytes.write('II*\0', 0, 'latin1')
  bytes.writeUInt32LE(8, 4)
  bytes.writeUInt16LE(tags.length, 8)
  let far = head
  for (const [i, [tag, type, values]] of tags.entries()) {
    const at = 10 + 12 * i
    bytes.writeUInt16LE(tag, at)
    bytes.writeUInt16LE(type, at + 2)
    bytes.writeUInt32LE(values.length, at + 4)
    if (tag === 273) bytes.writeUInt32LE(head + 16, at + 8)
    else if (type === 4) bytes.writeUInt32LE(values[0], at + 8)
    else if (values.length <= 2) for (const [k, v] of values.entries()) bytes.writeUInt16LE(v, at + 8 + 2 * k)
    else {
      bytes.writeUInt32LE(far, at + 8)
      for (const v of values) far = bytes.writeUInt16LE(v, far)
    }
  }
  for (const [i, v] of samples.entries()) bytes.writeFloatLE(v, head + 16 + 4 * i)
  writeFileSync(path, bytes)
}
